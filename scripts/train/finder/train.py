"""Train the finder.

  train.py --out DIR (--minutes M | --steps N) [--photos DIR] [--workers K] [--from WEIGHTS]

--photos   folder of photographs of the project's own generator, written by photos.py; every tenth is for measuring only
--workers  processes that draw scenes while training runs
--from     go on from weights of an earlier run (the optimiser starts afresh, with its warm-up)

The rate follows one cosine over the run. Writes `latest.pt` (averaged weights in half precision, and the net's shape) at every
measurement, and `log.txt`. Scenes for measuring come from seeds that training never uses.
"""

import argparse
import copy
import math
import multiprocessing
import os
import pathlib
import threading
import time

import numpy as np
import torch

import photos
import scene
import targets
from net import Finder, load
from surfaces import Shelf

MEASURING_SEED = 900_000_000


def draw(seed, queue):
    """A worker: scenes without end."""
    os.nice(5)
    n = 0
    while True:
        if n % 150 == 0:
            shelf = Shelf(np.random.default_rng([seed, n, 1]))
        queue.put(scene.render(np.random.default_rng([seed, n]), shelf))
        n += 1


class Pool:
    """Scenes kept on the device; new ones take the place of the oldest."""

    def __init__(self, device, room):
        self.room, self.count, self.seen = room, 0, 0
        h, w = scene.HEIGHT, scene.WIDTH
        self.picture = torch.empty(room, 3, h, w, dtype=torch.uint8, device=device)
        self.ids = torch.empty(room, h // 2, w // 2, dtype=torch.uint8, device=device)
        self.covered = torch.empty_like(self.ids)
        self.centres = torch.empty(room, 256, 2, device=device)

    def add(self, one):
        at = self.seen % self.room
        picture, ids, covered, centres = (torch.from_numpy(np.array(x)) for x in one)
        self.picture[at].copy_(picture.permute(2, 0, 1))
        self.ids[at].copy_(ids), self.covered[at].copy_(covered), self.centres[at].copy_(centres)
        self.seen += 1
        self.count = min(self.seen, self.room)

    def take(self, index):
        return self.picture[index].float(), self.ids[index].float(), self.covered[index].float(), self.centres[index]


def measure(net, pool, device, batch=8):
    """Mean loss, and instances found at IoU 0.75 and 0.9 of those there, and given but wrong."""
    net.eval()
    total, found75, found90, there, given = 0.0, 0, 0, 0, 0
    with torch.no_grad():
        for a in range(0, pool.count, batch):
            picture, ids, covered, centres = pool.take(slice(a, min(a + batch, pool.count)))
            t = targets.truth(ids.long(), covered, centres)
            with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
                out = net.logits(picture.contiguous(memory_format=torch.channels_last))
            out = out.float()
            total += targets.loss(out, t)[0].item() * len(picture)
            label = targets.pieces(out[:, 0].sigmoid(), out[:, 1].sigmoid()).cpu().numpy()
            for mine, true in zip(label, ids.long().cpu().numpy()):
                mine = np.unique(np.where(true == scene.LEFT_OUT, 0, mine), return_inverse=True)[1].reshape(true.shape)
                true = np.where(true == scene.LEFT_OUT, 0, true)
                both = np.bincount((true * (mine.max() + 1) + mine).ravel(), minlength=(true.max() + 1) * (mine.max() + 1))
                both = both.reshape(true.max() + 1, mine.max() + 1).astype(float)
                if mine.min() == 0 and not (mine == 0).any():
                    continue
                iou = both / np.maximum(both.sum(1, keepdims=True) + both.sum(0, keepdims=True) - both, 1)
                large_true, large_mine = both.sum(1)[1:] > 60, both.sum(0)[1:] > 60
                iou = iou[1:, 1:]
                there += int(large_true.sum())
                given += int(large_mine.sum())
                if iou.size:
                    best = iou.max(1)[large_true]
                    found75 += int((best > 0.75).sum())
                    found90 += int((best > 0.9).sum())
    net.train()
    n = max(there, 1)
    return f"loss {total / max(pool.count, 1):.3f} recall75 {found75 / n:.3f} recall90 {found90 / n:.3f} precision75 {found75 / max(given, 1):.3f} of {there}"


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--out", required=True)
    ask.add_argument("--minutes", type=float, default=1e9)
    ask.add_argument("--steps", type=int, default=10 ** 9)
    ask.add_argument("--photos")
    ask.add_argument("--photo-share", type=float, default=0.25)
    ask.add_argument("--workers", type=int, default=max(1, (os.cpu_count() or 2) - 2))
    ask.add_argument("--from", dest="start")
    ask.add_argument("--batch", type=int, default=16)
    ask.add_argument("--rate", type=float, default=2e-3)
    ask.add_argument("--room", type=int, default=9000)
    ask.add_argument("--wait-for", type=int, default=300, help="scenes drawn before the first step")
    ask.add_argument("--measure-on", type=int, default=16)
    ask.add_argument("--every-s", type=float, default=60)
    ask.add_argument("--seed", type=int, default=1)
    say = ask.parse_args()
    out = pathlib.Path(say.out)
    out.mkdir(parents=True, exist_ok=True)

    # Before the device is touched and before scenes are drawn: a photograph takes a second to read.
    paths = sorted(pathlib.Path(say.photos).glob("*.webp")) if say.photos else []
    with multiprocessing.Pool(say.workers) as readers:
        photographs = readers.map(photos.read, paths, chunksize=4)

    queue = multiprocessing.Queue(64)
    workers = [multiprocessing.Process(target=draw, args=(say.seed * 1000 + i, queue), daemon=True) for i in range(say.workers)]
    for w in workers:
        w.start()
    torch.manual_seed(say.seed)
    torch.set_num_threads(2)   # the work is on the device; the other cores draw
    chance = np.random.default_rng(say.seed)
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.backends.cudnn.benchmark = True
    log = open(out / "log.txt", "a", encoding="utf8")

    def tell(words):
        print(words, flush=True)
        log.write(words + "\n")
        log.flush()

    pool = Pool(device, say.room)

    def fill():
        while True:
            pool.add(queue.get())

    threading.Thread(target=fill, daemon=True).start()
    held = Pool(device, max(say.measure_on, 1))
    shelf = Shelf(np.random.default_rng([MEASURING_SEED, 1]))
    for i in range(say.measure_on):
        held.add(scene.render(np.random.default_rng([MEASURING_SEED, i]), shelf, scene.KINDS[i % len(scene.KINDS)]))
    own, own_held = Pool(device, max(1, len(photographs))), Pool(device, max(1, len(photographs[::10])))
    for i, photograph in enumerate(photographs):
        (own_held if i % 10 == 0 else own).add(photograph)
    tell(f"{held.count} scenes and {own_held.count} photographs to measure on, {own.count} photographs to learn from")

    net = (load(say.start) if say.start else Finder()).to(device, memory_format=torch.channels_last).train()
    kept = copy.deepcopy(net).eval()
    average, current = ([v for v in n.state_dict().values() if v.is_floating_point()] for n in (kept, net))
    optimiser = torch.optim.AdamW(net.parameters(), lr=say.rate, weight_decay=0.02, betas=(0.9, 0.98))
    while pool.count < say.wait_for:
        time.sleep(0.2)
    began, last, step, parts = time.time(), time.time(), 0, None
    tell(f"{sum(p.numel() for p in net.parameters()) / 1e6:.2f} M weights; {pool.seen} scenes drawn")
    while True:
        done = max(step / say.steps, (time.time() - began) / (60 * say.minutes))
        if done >= 1 or time.time() - last > say.every_s:
            last = time.time()
            now = " ".join(f"{v.item():.3f}" for v in parts) if parts else ""
            words = f"step {step} min {(time.time() - began) / 60:.1f} drawn {pool.seen} parts {now} | scenes {measure(kept, held, device)}"
            if own_held.count:
                words += f" | photographs {measure(kept, own_held, device)}"
            tell(words)
            weights = {k: v.half().cpu() if v.is_floating_point() else v.cpu() for k, v in kept.state_dict().items()}
            torch.save({"shape": net.shape, "weights": weights}, out / "latest.new")
            os.replace(out / "latest.new", out / "latest.pt")
            if done >= 1:
                break
        rate = say.rate * min(1, (step + 1) / 300) * max(0.01, 0.5 * (1 + math.cos(math.pi * done)))
        for group in optimiser.param_groups:
            group["lr"] = rate
        m = round(say.batch * say.photo_share) if own.count else 0
        batches = [pool.take(torch.from_numpy(chance.integers(0, pool.count, say.batch - m)).to(device))]
        if m:
            batches.append(own.take(torch.from_numpy(chance.integers(0, own.count, m)).to(device)))
        one = [torch.cat(x) for x in zip(*batches)]
        with torch.no_grad():
            picture, labels, covered, centres = targets.moved(*one)
            picture = targets.relit(picture).contiguous(memory_format=torch.channels_last)
            t = targets.truth(labels, covered, centres)
        with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
            logits = net.logits(picture)
        value, parts = targets.loss(logits.float(), t)
        optimiser.zero_grad(set_to_none=True)
        value.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 2.0)
        optimiser.step()
        step += 1
        with torch.no_grad():
            keep = min(0.999, 1 - 1 / (step + 1) if step < 1000 else 0.999)
            torch._foreach_mul_(average, keep)
            torch._foreach_add_(average, current, alpha=1 - keep)
    for w in workers:
        w.terminate()
    os._exit(0)  # the thread that fills the pool would wait for ever


if __name__ == "__main__":
    main()
