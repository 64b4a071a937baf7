"""Draw photographs with the project's generator and keep their crops for training, until told to stop.

  draw_crops.py --generator 'papillote_samples' --fonts FOLDER --out FOLDER [--finder papillote_found] [--hands lines.npz] [--workers 13]
                [--first-seed 100] [--last-seed 6880] [--photos 100000]
  draw_crops.py --photos-from FOLDER --out FOLDER          (photographs that are there already; nothing is added to them)

One .npz a photograph. Seeds are 20 apart, as neighbouring seeds share photographs.
"""

import argparse
import multiprocessing
import pathlib
import shlex
import shutil
import subprocess
import tempfile

import numpy as np

from cut import crops_of
from embellish import Hands, embellish


def keep(crops, path):
    whole = {"count": np.array(len(crops))}
    for k, crop in enumerate(crops):
        whole |= {f"{name}{k}": np.asarray(value) for name, value in crop.items()}
    part = path.with_suffix(".part")
    with open(part, "wb") as file:
        np.savez(file, **whole)
    part.rename(path)


def read(path):
    with np.load(path) as whole:
        return [{name: whole[f"{name}{k}"] for name in ("bgr", "paper", "line", "lines", "damage", "px_per_mm")} for k in range(int(whole["count"]))]


def work(number, say):
    hands = Hands(say.hands) if say.hands else None
    seeds = list(range(say.first_seed, say.last_seed + 1, 20))
    order = [(s, f) for f in range(1, 21) for s in seeds][number::say.workers]
    for seed, first in order[:say.photos]:
        rng = np.random.default_rng([seed, first])
        folder = pathlib.Path(tempfile.mkdtemp(dir=say.out))
        try:
            kind = rng.choice(["mixed", "mixed", "mixed", "sheet"])
            subprocess.run([*shlex.split(say.generator), "--seed", str(seed), "--first", str(first), "--count", "1", "--kind", str(kind),
                            "--out", str(folder), "--fonts", say.fonts, "--broken-insects"], check=True, stderr=subprocess.DEVNULL)
            if say.finder:
                subprocess.run([*shlex.split(say.finder), str(folder)], check=True)
            crops = []
            for truth in folder.glob("*.expected.json"):
                photo = truth.with_name(truth.name.replace(".expected.json", ".jpg"))
                # A photograph costs more than what is added to it: every crop is used twice.
                for chance in (0.0,) if say.plain else (0.35, 1.0):
                    for crop in crops_of(photo, truth, rng):
                        embellish(crop, hands, rng, chance)
                        crops.append(crop)
            keep(crops, say.out / f"{seed}-{first:02}.npz")
            if number == 0:   # the disk is no archive: what training has taken goes
                for path in sorted(say.out.glob("*.npz"), key=lambda p: p.stat().st_mtime)[:-say.keep]:
                    path.unlink()
        except Exception as error:   # one bad photograph must not stop the supply
            print(seed, first, repr(error), flush=True)
        finally:
            if say.photos_to:
                folder.rename(say.photos_to / f"{seed}-{first:02}")
            else:
                shutil.rmtree(folder, ignore_errors=True)


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--generator", default="papillote_samples")
    ask.add_argument("--fonts", default="fonts")
    ask.add_argument("--finder", help="papillote_found: crops as the program finds them")
    ask.add_argument("--photos-to", type=pathlib.Path, help="photographs go on there with what was found on them, for cut_lines.py")
    ask.add_argument("--photos-from", type=pathlib.Path)
    ask.add_argument("--out", type=pathlib.Path, required=True)
    ask.add_argument("--hands")
    ask.add_argument("--plain", action="store_true", help="add nothing to the crops")
    ask.add_argument("--workers", type=int, default=1)
    ask.add_argument("--first-seed", type=int, default=100)
    ask.add_argument("--last-seed", type=int, default=6880)
    ask.add_argument("--photos", type=int, default=100000, help="a worker")
    ask.add_argument("--keep", type=int, default=500, help="only the latest of these files stay")
    say = ask.parse_args()
    say.out.mkdir(parents=True, exist_ok=True)
    if say.photos_to:
        say.photos_to.mkdir(parents=True, exist_ok=True)
    if say.photos_from:
        for truth in sorted(say.photos_from.glob("*.expected.json")):
            photo = truth.with_name(truth.name.replace(".expected.json", ".jpg"))
            if photo.exists():
                keep(list(crops_of(photo, truth, np.random.default_rng(1))), say.out / (truth.name.split(".")[0] + ".npz"))
        return
    workers = [multiprocessing.Process(target=work, args=(k, say)) for k in range(say.workers)]
    for w in workers:
        w.start()
    for w in workers:
        w.join()


if __name__ == "__main__":
    main()
