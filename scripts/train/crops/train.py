"""Train one of the two nets on crops that draw_crops.py writes while training goes on.

  train.py --task lines|damage --crops FOLDER [--crops FOLDER] --held-out FOLDER --out FOLDER [--minutes 13] [--from latest.pt]

Crops stay on the device in a ring; every step takes some, turns, scales and spoils them there (augment.py). --out gets log.txt and latest.pt
(the running average of the weights); --from goes on from such a file. Several processes, each with a device of its own, train one net together
when RANK, WORLD_SIZE, MASTER_ADDR and MASTER_PORT say so, as torch.distributed has it: a step then sees the crops of all.
"""

import argparse
import math
import os
import pathlib
import threading
import time

import numpy as np
import torch
from torch import distributed
from torch.nn import functional as F

import augment
from draw_crops import read
from kinds import DAMAGES, LINES, MARKS, SIDE_PX
from net import CropNet, load


class Ring:
    """The latest crops, on the device."""

    def __init__(self, room, device):
        h = SIDE_PX // 2
        self.room, self.device, self.count, self.next = room, device, 0, 0
        self.picture = torch.zeros(room, 4, SIDE_PX, SIDE_PX, dtype=torch.uint8, device=device)
        self.line = torch.zeros(room, h, h, dtype=torch.uint8, device=device)
        self.damage = torch.zeros(room, h, h, dtype=torch.int32, device=device)
        self.lines = torch.zeros(room, 256, 7, device=device)
        self.size = torch.zeros(room, 2, device=device)
        self.weight = np.zeros(room)

    def add(self, crop, task):
        bgr, k = crop["bgr"], self.next
        h, w = bgr.shape[:2]
        if max(h, w) > SIDE_PX or min(h, w) < 32:
            return
        picture = np.zeros((4, SIDE_PX, SIDE_PX), np.uint8)
        picture[:3, :h, :w], picture[3, :h, :w] = bgr.transpose(2, 0, 1), crop["paper"]
        # Beyond the crop: its own border goes on.
        picture[:3, h:, :w], picture[:3, :, w:] = picture[:3, h - 1:h, :w], picture[:3, :, w - 1:w]
        half = np.zeros((2, SIDE_PX // 2, SIDE_PX // 2), np.int32)
        half[0, :h // 2, :w // 2], half[1, :h // 2, :w // 2] = crop["line"][:h // 2, :w // 2], crop["damage"][:h // 2, :w // 2].astype(np.int32)
        rows = np.zeros((256, 7), np.float32)
        rows[1:len(crop["lines"]) + 1] = crop["lines"][:255]
        put = lambda a: torch.from_numpy(np.ascontiguousarray(a)).to(self.device, non_blocking=True)
        self.picture[k], self.line[k], self.damage[k] = put(picture), put(half[0].astype(np.uint8)), put(half[1])
        self.lines[k], self.size[k] = put(rows), torch.tensor([w, h], dtype=torch.float32)
        if task == "lines":
            self.weight[k] = 1.0 if len(crop["lines"]) else 0.4
        else:
            self.weight[k] = 1.0 + 0.7 * sum(bool((crop["damage"] >> b & 1).any()) for b in range(len(DAMAGES)))
        if self.device.type == "cuda":
            torch.cuda.current_stream().synchronize()
        self.next = (k + 1) % self.room
        self.count = max(self.count, k + 1)

    def draw(self, n, rng):
        count = self.count
        p = self.weight[:count].copy()   # the supply goes on meanwhile
        k = torch.from_numpy(rng.choice(count, n, p=p / p.sum())).to(self.device)
        return {name: getattr(self, name)[k] for name in ("picture", "line", "damage", "lines", "size")}


def dice(share, truth, dims):
    common = (share * truth).sum(dims)
    return 1 - (2 * common + 20) / (share.sum(dims) + truth.sum(dims) + 20)


def lines_loss(raw, truth):
    n = len(LINES) + 1
    cross = F.cross_entropy(raw[:, :n], truth["kind"], label_smoothing=0.01, reduction="none")
    # Lines cover little of a picture and stamps little of the lines: every kind that is there counts the same.
    flat = truth["kind"].flatten()
    pixels = torch.bincount(flat, minlength=n)
    each = torch.zeros(n, device=raw.device).index_add(0, flat, cross.flatten()) / pixels.clamp(min=1)
    kind = cross.mean() + each.sum() / (pixels > 0).sum()
    core, on = raw[:, n], truth["core"]
    odds = F.binary_cross_entropy_with_logits(core, on) + 0.5 * dice(torch.sigmoid(core), on, (0, 1, 2))
    total = on.sum().clamp(min=1)
    turn = ((raw[:, n + 1:n + 3] - truth["along"]) ** 2).sum(1)
    reach = F.smooth_l1_loss(raw[:, n + 3:n + 5], truth["reach"], reduction="none", beta=0.1).sum(1)
    return kind + 2 * odds + 0.7 * (turn * on).sum() / total + 1.0 * (reach * on).sum() / total


TURN = 20      # steps between two looks at the clock
SPECK_PX = 2   # of half size: a hole of 0.5 mm
HOLE, FADED = DAMAGES.index("hole"), DAMAGES.index("faded")


def of_a_crop(raw):
    """The greatest odds of each kind on a crop, over a few pixels, but over one for holes, which may have no more."""
    greatest = F.avg_pool2d(raw, 3, 1, 1).amax((2, 3))
    return torch.cat([greatest[:, :HOLE], raw[:, HOLE:HOLE + 1].amax((2, 3)), greatest[:, HOLE + 1:]], 1)


def damage_loss(raw, truth):
    # Where the contrast was changed, fading is not judged.
    judged = torch.ones_like(truth["damage"][:, :, :1, :1])
    judged[:, FADED] = truth["contrast_kept"][:, 0]
    share, on = torch.sigmoid(raw) * judged, truth["damage"] * judged
    # Focal loss (Lin et al. 2017), each kind by its own pixels: a hole is a hundredth of a stain.
    cross = F.binary_cross_entropy_with_logits(raw, on, reduction="none")
    away = (share - on).abs() ** 2 * cross * (1 + on)
    pixels = on.sum((0, 2, 3))
    focal = (away.sum((0, 2, 3)) / pixels.clamp(min=300)).mean()
    seen = pixels > 0
    whole = (dice(share, on, (0, 2, 3)) * seen).sum() / seen.sum().clamp(min=1)
    # Whether the crop has the damage at all, by the highest odds on it.
    there = (on.sum((2, 3)) >= SPECK_PX).float()
    presence = F.binary_cross_entropy_with_logits(of_a_crop(raw), there, weight=(1 + 3 * there) * judged[:, :, 0, 0])
    return 2 * focal + 0.7 * whole + 1.0 * presence


@torch.no_grad()
def measure(net, held_out, device):
    """lines: IoU of the core, share of core pixels with the right kind and with the direction within 15 degrees; damage: by kind, average
    precision of the greatest odds on a crop against whether the crop has that damage."""
    net.eval()
    common = union = right = level = total = 0
    scores, truths = [], []
    for crop in held_out:
        for key in crop:
            crop[key] = crop[key].to(device)
        picture, truth = augment.plain(crop)
        raw = net.raw(picture).float()
        if net.task == "lines":
            n = len(LINES) + 1
            core, on = raw[:, n] > 0, truth["core"] > 0
            common, union, total = common + (core & on).sum(), union + (core | on).sum(), total + on.sum()
            right += ((raw[:, 1:n].argmax(1) + 1 == truth["kind"]) & on).sum()
            unit = F.normalize(raw[:, n + 1:n + 3], dim=1)
            level += (((unit * truth["along"]).sum(1) > math.cos(math.radians(15))) & on).sum()
        else:
            scores.append(of_a_crop(raw).cpu().numpy())
            truths.append((truth["damage"].sum((2, 3)) >= SPECK_PX).cpu().numpy())
    if net.task == "lines":
        return f"core IoU {float(common / union.clamp(min=1)):.4f} kind {float(right / max(1, total)):.4f} direction {float(level / max(1, total)):.4f}"
    scores, truths = np.concatenate(scores), np.concatenate(truths)
    words = []
    for k, name in enumerate(MARKS):
        order = np.argsort(-scores[:, k])
        hit = truths[order, k]
        if hit.sum():
            words.append(f"{name} {float((np.cumsum(hit) / np.arange(1, len(hit) + 1))[hit].mean()):.2f}/{hit.sum()}")
    any_score, any_truth = scores[:, :len(DAMAGES)].max(1), truths[:, :len(DAMAGES)].any(1)
    clean = np.sort(any_score[~any_truth])[::-1]
    if len(clean):
        found = (any_score[any_truth] > clean[int(0.05 * len(clean))]).mean()
        words.insert(0, f"damaged found at 5 % false alarms {found:.3f};")
    return " ".join(words)


class Together:
    """The processes that train one net; one alone shares with nobody."""

    def __init__(self, device):
        self.device, self.count, self.rank = device, int(os.environ.get("WORLD_SIZE", 1)), int(os.environ.get("RANK", 0))
        if self.count > 1:
            distributed.init_process_group("nccl" if device.type == "cuda" else "gloo")

    @torch.no_grad()
    def mean(self, tensors):
        """Each becomes the mean over all processes."""
        if self.count == 1:
            return
        flat = torch.cat([t.flatten() for t in tensors])
        distributed.all_reduce(flat)
        flat /= self.count
        for t, part in zip(tensors, flat.split([t.numel() for t in tensors])):
            t.copy_(part.view_as(t))

    def agreed(self, *numbers):
        """What the first process says."""
        if self.count == 1:
            return numbers
        said = torch.tensor(numbers, dtype=torch.float64, device=self.device)
        distributed.broadcast(said, 0)
        return said.tolist()


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--task", choices=("lines", "damage"), required=True)
    ask.add_argument("--crops", type=pathlib.Path, action="append", required=True)
    ask.add_argument("--held-out", type=pathlib.Path, required=True)
    ask.add_argument("--out", type=pathlib.Path, required=True)
    ask.add_argument("--from", dest="start_from")
    ask.add_argument("--minutes", type=float, default=13)
    ask.add_argument("--batch", type=int, default=40)
    ask.add_argument("--window", type=int, default=384)
    ask.add_argument("--rate", type=float, default=2e-3)
    ask.add_argument("--room", type=int, default=11000, help="crops kept on the device, 2 MB each")
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--measure-every", type=float, default=100)
    say = ask.parse_args()
    say.out.mkdir(parents=True, exist_ok=True)
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    cuda = device.type == "cuda"
    together = Together(device)
    first = together.rank == 0
    log = open(say.out / "log.txt", "a", encoding="utf8")

    def note(*words):
        if not first:
            return
        line = " ".join(str(w) for w in words)
        print(line, flush=True)
        log.write(line + "\n")
        log.flush()

    torch.manual_seed(say.seed + 1000 * together.rank)
    torch.set_num_threads(2)   # the work is on the device; the other cores draw
    rng = np.random.default_rng([say.seed, together.rank])
    torch.backends.cudnn.benchmark = True
    torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True

    ring = Ring(say.room, device)

    def fetch():
        if cuda:   # copies must not wait for the steps in the queue
            torch.cuda.set_stream(torch.cuda.Stream())
        seen = set()
        while True:
            new = sorted({p for folder in say.crops for p in folder.glob("*.npz")} - seen)
            rng_order = np.random.default_rng(len(seen)).permutation(len(new))
            for k in rng_order:
                seen.add(new[k])
                try:
                    crops = read(new[k])
                except Exception as error:
                    note("left out", new[k].name, repr(error))
                    continue
                for crop in crops:
                    ring.add(crop, say.task)
            time.sleep(1)

    threading.Thread(target=fetch, daemon=True).start()

    net = load(say.start_from) if say.start_from else CropNet(say.task)
    net = net.to(device).to(memory_format=torch.channels_last)
    average = CropNet(say.task).to(device).to(memory_format=torch.channels_last)
    average.load_state_dict(net.state_dict())
    mine, its = list(net.parameters()), list(average.parameters())
    for p in its:
        p.requires_grad_(False)
    optimiser = torch.optim.AdamW([{"params": [p for p in mine if p.ndim > 1], "weight_decay": 0.02}, {"params": [p for p in mine if p.ndim <= 1], "weight_decay": 0.0}],
                                  lr=say.rate, betas=(0.9, 0.99), **({"fused": True} if cuda else {}))

    least = min(say.room, 300 if cuda else 8)
    while ring.count < least:
        time.sleep(0.5)
    together.agreed(0)   # all have crops
    begin, step, seen, recent, last_note, last_measure = time.time(), 0, 0, None, time.time(), time.time()
    note("weights", sum(p.numel() for p in mine), "crops", ring.count, "devices", together.count, device)
    done = 0.0

    def held_out():
        crops = [c for p in sorted(say.held_out.glob("*.npz")) for c in read(p)]
        small = Ring(max(1, len(crops)), torch.device("cpu"))
        for crop in crops:
            small.add(crop, say.task)
        return [{name: getattr(small, name)[k:k + 16] for name in ("picture", "line", "damage", "lines", "size")} for k in range(0, small.count, 16)]

    def keep():
        state = {k: v.half() if v.is_floating_point() else v for k, v in average.state_dict().items()}
        torch.save({"task": say.task, "weights": {k: v.contiguous().cpu() for k, v in state.items()}}, say.out / "latest.part")
        (say.out / "latest.part").rename(say.out / "latest.pt")

    def rest():
        buffers = dict(net.named_buffers())
        together.mean([b for b in buffers.values() if b.is_floating_point()])
        if not first:
            return
        for k, b in average.named_buffers():
            b.copy_(buffers[k])
        keep()
        note("step", step, f"done {done:.3f} crops {ring.count}", measure(average, held_out(), device))

    net.train()
    loss_of = lines_loss if say.task == "lines" else damage_loss
    while done < 1:
        drawn = ring.draw(say.batch, rng)
        with torch.no_grad():
            picture, truth = augment.spoiled(drawn, say.window, flip=say.task == "damage")
        rate = say.rate * min(1, (step + 1) / 200) * (0.5 + 0.5 * math.cos(math.pi * min(1, done))) + 1e-6
        for group in optimiser.param_groups:
            group["lr"] = rate
        with torch.autocast(device.type, dtype=torch.bfloat16, enabled=cuda):
            raw = net.raw(picture.contiguous(memory_format=torch.channels_last))
        loss = loss_of(raw.float(), truth)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        together.mean([p.grad for p in mine])
        torch.nn.utils.clip_grad_norm_(mine, 2.0)
        optimiser.step()
        step += 1
        seen += say.batch * together.count
        with torch.no_grad():
            torch._foreach_mul_(its, (hold := min(0.998, (step + 1) / (step + 20))))
            torch._foreach_add_(its, [p.detach() for p in mine], alpha=1 - hold)
            recent = loss.detach() if recent is None else recent.lerp(loss.detach(), 0.02)
        if step in (1, 10, 100) or time.time() - last_note > 30:
            note("step", step, f"loss {float(recent):.4f} rate {rate:.2e} {seen / (time.time() - begin):.0f} crops/s of {ring.count}")
            last_note = time.time()
        if step % TURN == 0:
            done, since = together.agreed((time.time() - begin) / (say.minutes * 60), time.time() - last_measure)
            if since > say.measure_every:
                rest()
                net.train()
                last_measure = time.time()
    rest()
    note("finished")
    (say.out / "finished").touch()
    if together.count > 1:
        distributed.destroy_process_group()


if __name__ == "__main__":
    main()
