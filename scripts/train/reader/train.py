"""Train the line reader.

  train.py --packed DIR --synthetic DIR --dev DIR --out DIR (--minutes M | --steps N) [--from WEIGHTS]
  torchrun --nproc-per-node N train.py ...      on N devices: each takes its share of the synthetic lines, the gradients are averaged

--packed     folder written by prepare.py and align.py
--synthetic  folder that draw_lines.py and recombine.py fill, before or while training runs
--dev        folder of NAME.jpg / NAME.txt pairs for measuring only
--from       go on from weights of an earlier run (the optimiser starts afresh, with its warm-up)

The rate follows one cosine over the run, whichever of steps and minutes ends first. Writes `latest.pt` (averaged weights in half
precision, and the shape of the net) at every measurement, and `log.txt`.
"""

import argparse
import io
import json
import math
import os
import pathlib
import queue
import random
import sys
import threading
import time
import zlib
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import torch
import torch.distributed as peers
from PIL import Image
from torch.nn import functional as F

import augment
from align import HARDLY_FIT, places
from alphabet import classes_of, fold, text_of
from draw_lines import Pen
from errors import character_errors
from net import Reader, load

HEIGHT = 64
LONGEST = 176                       # characters of a line
SPANS = 0.4                         # share of real lines cut to a run of their words
WIDTHS = [192, 256, 320, 384, 448, 512, 640, 768, 896, 1024, 1216, 1408, 1664, 1984, 2304]


class Lines:
    """Pictures in one flat buffer on the device; widths and texts on both sides."""

    def __init__(self, device, pixels, lines):
        self.pixels = torch.empty(pixels, dtype=torch.uint8, device=device)
        self.start = torch.zeros(lines, dtype=torch.long, device=device)
        self.width = torch.zeros(lines, dtype=torch.long, device=device)
        self.target = torch.zeros(lines, LONGEST, dtype=torch.int16, device=device)
        self.widths, self.lengths = np.zeros(lines, np.int64), np.zeros(lines, np.int64)
        self.used, self.count = 0, 0

    def add(self, flat, widths, texts):
        """False when there is no room left."""
        n, m = len(widths), len(flat)
        if self.used + m > len(self.pixels) or self.count + n > len(self.widths):
            return False
        a, b = self.count, self.count + n
        target = np.zeros((n, LONGEST), np.int16)
        for i, t in enumerate(texts):
            c = classes_of(t)[:LONGEST]
            target[i, :len(c)] = c
            self.lengths[a + i] = len(c)
        starts = self.used + np.concatenate([[0], np.cumsum(widths[:-1].astype(np.int64) * HEIGHT)])
        self.pixels[self.used:self.used + m] = torch.from_numpy(flat).to(self.pixels.device)
        self.start[a:b] = torch.from_numpy(starts).to(self.start.device)
        self.width[a:b] = torch.from_numpy(widths.astype(np.int64)).to(self.width.device)
        self.target[a:b] = torch.from_numpy(target).to(self.target.device)
        self.widths[a:b] = widths
        self.used, self.count = self.used + m, b
        return True


def read_packed(folder, least=1):
    """The real lines of prepare.py: flat pixels, widths, texts, data set of each, in the order of lines.json."""
    rows = json.loads((folder / "lines.json").read_text(encoding="utf8"))[::least]
    blob = (folder / "lines.bin").read_bytes()
    with ThreadPoolExecutor() as pool:
        pictures = list(pool.map(lambda r: np.asarray(Image.open(io.BytesIO(blob[r[1]:r[1] + r[2]])).convert("L")), rows))
    return np.concatenate([p.reshape(-1) for p in pictures]), np.array([p.shape[1] for p in pictures]), [r[3] for r in rows], [r[0].split("_")[0] for r in rows]


def read_pairs(folder, least=1):
    paths = sorted(pathlib.Path(folder).glob("*.jpg"))[::least]
    pictures = [np.asarray(Image.open(p).convert("L")) for p in paths]
    return pictures, [fold(p.with_suffix(".txt").read_text(encoding="utf8")) for p in paths], [p.stem.split("_")[0] for p in paths]


def read_chunk(path):
    with np.load(path) as z:
        return z["pixels"], z["widths"], bytes(z["texts"]).decode("utf8").split("\n")


class Spans:
    """Where real lines may be cut (align.py): at the blanks between words."""

    def __init__(self, cuts, widths, lengths):
        of_lines = [places(c, int(n), int(w)) for (c, _), w, n in zip(cuts, widths, lengths)]
        self.count = np.array([len(p) for p in of_lines])
        self.start = np.cumsum(self.count) - self.count
        self.place = np.array([p for line in of_lines for p in line], np.int64)

    def draw(self, rng, lines):
        """Runs of words: first character, number of characters, first column, number of columns, and which of them are long enough."""
        a = (rng.random(len(lines)) * (self.count[lines] - 1)).astype(np.int64)
        b = a + 1 + (rng.random(len(lines)) * (self.count[lines] - 1 - a)).astype(np.int64)
        (i, left), (j, right) = self.place[self.start[lines] + a].T, self.place[self.start[lines] + b].T
        return i, j - 1 - i, left, right - left, (right - left >= 16) & (j - 1 > i)


class Plan(threading.Thread):
    """Draws batches ahead of the device: which lines or spans of them, how stretched, with what margins."""

    def __init__(self, real, weights, spans, synthetic, share_of_real, area, seed):
        super().__init__(daemon=True)
        self.real, self.spans, self.synthetic, self.share_of_real, self.area = real, spans, synthetic, share_of_real, area
        self.rng = np.random.default_rng(seed)
        self.cumulative = np.cumsum(weights / weights.sum())
        self.ready = queue.Queue(24)

    def run(self):
        rng, waiting = self.rng, [np.zeros((0, 9))] * len(WIDTHS)
        while True:
            n = 4096
            is_real = rng.random(n) < (self.share_of_real() if self.synthetic.count > 2000 else 1.0)
            real = np.minimum(np.searchsorted(self.cumulative, rng.random(n)), self.real.count - 1)
            made = rng.integers(0, max(1, self.synthetic.count), n)
            width = np.where(is_real, self.real.widths[real], self.synthetic.widths[made])
            length = np.where(is_real, self.real.lengths[real], self.synthetic.lengths[made])
            first, column = np.zeros(n, np.int64), np.zeros(n, np.int64)
            cut = np.flatnonzero(is_real & (rng.random(n) < SPANS))
            *span, long_enough = self.spans.draw(rng, real[cut])
            first[cut[long_enough]], length[cut[long_enough]], column[cut[long_enough]], width[cut[long_enough]] = (v[long_enough] for v in span)
            stretch = np.exp(rng.uniform(-0.34, 0.32, n) * (rng.random(n) < 0.8))
            stretch = np.maximum(stretch, np.minimum(1.4, (4.6 * length + 8) / width))   # room for CTC
            left, right = (rng.integers(0, 28, n) * (rng.random(n) < 0.5) for _ in range(2))
            full = augment.LEFT_PX + left + right + np.ceil(width * stretch) + 8
            too = full > WIDTHS[-1]
            stretch[too] = (WIDTHS[-1] - 20) / width[too]
            left[too] = right[too] = 0
            full[too] = WIDTHS[-1]
            rows = np.stack([is_real, np.where(is_real, real, made), stretch, left, right, length, first, column, width], 1).astype(np.float64)
            bucket, batches = np.searchsorted(WIDTHS, full), []
            for k, w in enumerate(WIDTHS):
                waiting[k] = np.concatenate([waiting[k], rows[bucket == k]])
                m = max(8, min(640, self.area // w // 8 * 8))
                while len(waiting[k]) >= m:
                    batches.append((w, waiting[k][:m]))
                    waiting[k] = waiting[k][m:]
            for b in rng.permutation(len(batches)):
                self.ready.put(batches[b])


def take(batch, device, real, synthetic, papers):
    """One planned batch as the net's input and targets: every line in two views, all first views before all second ones."""
    w, rows = batch
    rows = rows[np.argsort(-rows[:, 0], kind="stable")]
    k = int(rows[:, 0].sum())
    on = torch.from_numpy(rows.astype(np.float32))
    index = torch.from_numpy(rows[:, 1].astype(np.int64))
    if device.type == "cuda":
        on, index = on.pin_memory().to(device, non_blocking=True), index.pin_memory().to(device, non_blocking=True)
    first_views, second_views, targets = [], [], []
    for source, a, b in ((real, 0, k), (synthetic, k, len(rows))):
        if b > a:
            i, first, column, width = index[a:b], on[a:b, 6].long(), on[a:b, 7].long(), on[a:b, 8].long()
            one, two = augment.views(source.pixels, source.start[i] + column, width, source.width[i], w, on[a:b, 2], on[a:b, 3], on[a:b, 4], on[a:b, 0], papers, 2)
            first_views.append(one)
            second_views.append(two)
            targets.append(source.target[i].gather(1, (first[:, None] + torch.arange(LONGEST, device=first.device)).clamp(max=LONGEST - 1)))
    return torch.cat(first_views + second_views), torch.cat(targets).long().repeat(2, 1), torch.from_numpy(rows[:, 5].astype(np.int64)).repeat(2)


def ctc(logs, targets, lengths):
    n, t, _ = logs.shape
    each = F.ctc_loss(logs.transpose(0, 1), targets, torch.full((n,), t, dtype=torch.long), lengths, reduction="none", zero_infinity=True)
    return each.sum() / float(lengths.sum())


def disagreement(logs, lengths):
    """How far the frames of the two views of each line say something else: the loss of consistency-regularised CTC (Yao and others,
    "CR-CTC: Consistency regularization on CTC for improved speech recognition", 2024). Each view learns from what the other says."""
    one, two = logs.chunk(2)
    both = F.kl_div(one, two.detach(), reduction="sum", log_target=True) + F.kl_div(two, one.detach(), reduction="sum", log_target=True)
    return both / float(lengths.sum())


@torch.no_grad()
def read_all(net, pictures, device):
    """Best-path texts of pictures 64 px high."""
    out = [None] * len(pictures)
    order = sorted(range(len(pictures)), key=lambda i: pictures[i].shape[1])
    for a in range(0, len(order), 32):
        part = order[a:a + 32]
        widths = torch.tensor([pictures[i].shape[1] for i in part], device=device)
        flat = torch.from_numpy(np.concatenate([pictures[i].reshape(-1) for i in part])).to(device)
        start = torch.cat([widths.new_zeros(1), (widths * HEIGHT).cumsum(0)[:-1]])
        w = (int(widths.max()) + 16 + 7) // 8 * 8
        best = net(augment.plain(flat, start, widths, w)).argmax(-1).cpu().numpy()
        for row, i in zip(best, part):
            out[i] = text_of(row[:(pictures[i].shape[1] + 16 + 7) // 8 * 2])
    return out


def measure(net, sets, device):
    """Character error rate per data set and over all, for named lists of (pictures, texts, groups)."""
    net.eval()
    rows = []
    for name, (pictures, texts, groups) in sets.items():
        tally = {}
        for got, want, g in zip(read_all(net, pictures, device), texts, groups):
            e, n = tally.get(g, (0, 0))
            tally[g] = (e + character_errors(got, want), n + len(want))
        total = sum(e for e, _ in tally.values()) / max(1, sum(n for _, n in tally.values()))
        rows.append(f"{name} {100 * total:.2f} (" + " ".join(f"{g} {100 * e / n:.1f}" for g, (e, n) in sorted(tally.items())) + ")")
    return " | ".join(rows)


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--packed", type=pathlib.Path, required=True)
    ask.add_argument("--synthetic", type=pathlib.Path, required=True)
    ask.add_argument("--held-out", type=pathlib.Path, help="one chunk of lines in fonts never trained on, for measuring")
    ask.add_argument("--dev", type=pathlib.Path, required=True)
    ask.add_argument("--out", type=pathlib.Path, required=True)
    ask.add_argument("--minutes", type=float, default=1e9)
    ask.add_argument("--steps", type=int, default=10 ** 9)
    ask.add_argument("--drop", type=float, default=0.3)
    ask.add_argument("--rate", type=float, default=1e-3)
    ask.add_argument("--warm-up", type=int, default=1000)
    ask.add_argument("--deeper", type=int, default=0, help="layers more than the net that is used has: a teacher")
    ask.add_argument("--teacher", help="weights of a net to learn from beside the transcripts")
    ask.add_argument("--area", type=int, default=120000, help="pixels of width in a batch, all lines together")
    ask.add_argument("--agree", type=float, default=0.2, help="weight of the agreement of two views of a line")
    ask.add_argument("--room", type=float, default=20.0, help="GB on the device for synthetic lines")
    ask.add_argument("--measure-every", type=float, default=120.0, help="seconds")
    ask.add_argument("--from", dest="start_from")
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--tiny", action="store_true", help="a dry run on few lines")
    say = ask.parse_args()
    begun = time.time()
    rank, devices = int(os.environ.get("RANK", 0)), int(os.environ.get("WORLD_SIZE", 1))
    say.out.mkdir(parents=True, exist_ok=True)
    log = open(say.out / "log.txt", "a")

    def note(*words):
        if rank > 0:
            return
        line = f"{time.time() - begun:7.1f}s " + " ".join(str(w) for w in words)
        print(line, flush=True)
        log.write(line + "\n")
        log.flush()

    device = torch.device("cuda", int(os.environ.get("LOCAL_RANK", 0))) if torch.cuda.is_available() else torch.device("cpu")
    if device.type == "cuda":
        torch.cuda.set_device(device)
    if devices > 1:
        peers.init_process_group("nccl" if device.type == "cuda" else "gloo")
    say.seed += 1000 * rank
    torch.manual_seed(say.seed)
    random.seed(say.seed)
    sys.setswitchinterval(2e-4)   # the threads that plan and fetch must not hold up the one that feeds the device
    torch.set_num_threads(2)   # the work is on the device: more threads only wait for one another beside those that draw
    torch.backends.cudnn.benchmark = True
    torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True

    flat, widths, texts, groups = read_packed(say.packed, 60 if say.tiny else 1)
    real = Lines(device, len(flat), len(widths))
    real.add(flat, widths, texts)
    size = {g: groups.count(g) for g in set(groups)}
    more = {"hooker": 1.15, "stanford1905": 2.0}
    cuts = json.loads((say.packed / "cuts.json").read_text(encoding="utf8"))[::60 if say.tiny else 1]
    weights = np.array([size[g] ** -0.25 * more.get(g, 1.0) * (fit > HARDLY_FIT) for g, (_, fit) in zip(groups, cuts)])
    spans = Spans(cuts, real.widths, real.lengths)
    note("real lines", real.count, "learnt from", int((weights > 0).sum()))
    room = int((0.05 if say.tiny else say.room) * 1e9)
    synthetic = Lines(device, room, room // (HEIGHT * 300))
    pen = Pen(say.packed, False, say.seed, 20 if say.tiny else 100)
    papers = torch.from_numpy(np.stack(pen.papers.sheets)).to(device)
    if papers.shape[2] < WIDTHS[-1]:
        papers = torch.cat([papers, papers.flip(2)], 2)
    if device.type == "cuda":
        papers = papers.half()
    note("papers", tuple(papers.shape))

    def fetch():
        seen = set()
        while True:
            new = [p for p in sorted(say.synthetic.glob("*.npz")) if p.name not in seen and ".part" not in p.name and zlib.crc32(p.name.encode()) % devices == rank]
            for p in new:
                seen.add(p.name)
                if not synthetic.add(*read_chunk(p)):
                    return
            time.sleep(1)

    threading.Thread(target=fetch, daemon=True).start()
    sets = {"dev": read_pairs(say.dev, 25 if say.tiny else 1)}
    if say.held_out:
        flat, widths, texts = read_chunk(say.held_out)
        cuts = np.concatenate([[0], np.cumsum(widths.astype(np.int64) * HEIGHT)])
        n = 20 if say.tiny else len(widths)
        sets["new-fonts"] = ([flat[cuts[i]:cuts[i + 1]].reshape(HEIGHT, -1) for i in range(n)], texts[:n], ["label"] * n)

    shape = {"drop": say.drop, "deeper": say.deeper}
    net = load(say.start_from, say.deeper) if say.start_from else Reader(**shape)
    net.drop.p = net.steps.dropout = say.drop
    for layer in net.deeper:
        layer.drop.p = say.drop
    teacher = load(say.teacher).to(device).to(memory_format=torch.channels_last) if say.teacher else None
    net = net.to(device).to(memory_format=torch.channels_last)
    average = Reader(**shape).to(device).to(memory_format=torch.channels_last)
    average.load_state_dict(net.state_dict())
    mine, its = [p for p in net.parameters()], [p for p in average.parameters()]
    for p in its:
        p.requires_grad_(False)
    decay = [p for p in mine if p.ndim > 1]
    rest = [p for p in mine if p.ndim <= 1]
    optimiser = torch.optim.AdamW([{"params": decay, "weight_decay": 0.04}, {"params": rest, "weight_decay": 0.0}], lr=say.rate, betas=(0.9, 0.98), eps=1e-8, **({"fused": True} if device.type == "cuda" else {}))

    start_of_training, step, done = time.time(), 0, 0.0
    share = lambda: 0.5 if done < 0.8 else 0.62
    plan = Plan(real, weights, spans, synthetic, share, say.area if not say.tiny else 4096, say.seed)
    plan.start()

    def keep(name):
        state = {k: v.half() if v.is_floating_point() else v for k, v in average.state_dict().items()}
        torch.save({"shape": shape, "weights": {k: v.contiguous().cpu() for k, v in state.items()}}, say.out / f"{name}.part")
        (say.out / f"{name}.part").rename(say.out / f"{name}.pt")

    def rest_and_measure():
        buffers = dict(net.named_buffers())
        for k, b in average.named_buffers():
            b.copy_(buffers[k])
        note("step", step, f"done {done:.3f} lines {seen} synthetic {synthetic.count}", measure(average, sets, device))
        keep("latest")

    net.train()
    seen, recent, last_measure, last_note = 0, None, time.time(), time.time()
    while done < 1:
        line, targets, lengths = take(plan.ready.get(), device, real, synthetic, papers)
        rate = say.rate * min(1, (step + 1) / say.warm_up) * (0.5 + 0.5 * math.cos(math.pi * done)) + 1e-6
        for group in optimiser.param_groups:
            group["lr"] = rate
        line = line.contiguous(memory_format=torch.channels_last)
        with torch.autocast(device.type, dtype=torch.bfloat16, enabled=device.type == "cuda"):
            logits, early = net(line, early=True)
        logs = F.log_softmax(logits.float(), -1)
        loss = ctc(logs, targets, lengths)
        whole = loss + say.agree * disagreement(logs, lengths)
        if teacher:
            with torch.no_grad(), torch.autocast(device.type, dtype=torch.bfloat16, enabled=device.type == "cuda"):
                taught = teacher(line)
            whole = whole + say.agree * F.kl_div(logs, taught.float(), reduction="sum", log_target=True) / float(lengths.sum())
        if not say.start_from:   # the trunk learns faster at first when it is asked too
            whole = whole + 0.2 * ctc(F.log_softmax(early.float(), -1), targets, lengths)
        optimiser.zero_grad(set_to_none=True)
        whole.backward()
        grads = [p.grad for p in mine if p.grad is not None]
        for g in grads:
            torch.nan_to_num_(g, 0.0, 0.0, 0.0)
        done = min(1.0, max((step + 1) / say.steps, (time.time() - start_of_training) / (say.minutes * 60)))
        if devices > 1:   # gradients, and how far the run is: all devices must end at the same step
            together = torch.cat([g.reshape(-1) for g in grads] + [torch.tensor([done], device=device)])
            peers.all_reduce(together)
            together /= devices
            for g, mean in zip(grads, together.split([g.numel() for g in grads] + [1])):
                g.copy_(mean.view_as(g))
            done = float(together[-1])
        torch.nn.utils.clip_grad_norm_(mine, 2.0)
        optimiser.step()
        step += 1
        seen += len(lengths)
        with torch.no_grad():
            torch._foreach_lerp_(its, mine, 1 - min(0.9995, (step + 1) / (step + 20))) if hasattr(torch, "_foreach_lerp_") else [a.lerp_(b, 0.05) for a, b in zip(its, mine)]
            recent = loss.detach() if recent is None else recent.lerp(loss.detach(), 0.02)
        if step in (10, 100) or time.time() - last_note > 30:
            note("step", step, f"loss {float(recent):.4f} rate {rate:.2e} {seen / (time.time() - start_of_training):.0f} lines/s synthetic {synthetic.count}")
            last_note = time.time()
        if rank == 0 and time.time() - last_measure > say.measure_every:
            rest_and_measure()
            net.train()
            last_measure = time.time()
    if rank == 0:
        rest_and_measure()
        note("finished")
        (say.out / "finished").touch()
    if devices > 1:
        peers.destroy_process_group()


if __name__ == "__main__":
    main()
