"""A second renderer of test photographs: papered insects on a table, with the truth about every envelope and every damage.

It draws in another way than the project's own generator and shares nothing with it (sample-images/generator): no code, no layouts, no
wording, no models of damage. What a detector has learnt from the one style is measured here on a style that it has never seen.
For that to stay true, none of these pictures may be used for training, nor for settling any threshold or other figure of a detector.

Everything is drawn. Species and places are real, persons are invented.
"""

import argparse
import os
import sys
import time
from pathlib import Path

EXAMPLE = """
Each picture NAME.jpg gets its truth NAME.expected.json beside it, in the form that papillote_evaluate reads. The same seed gives the same
pictures. Pictures that are there already are left alone: after an interruption, run the same command again.

Example:
  python3 tests/second_renderer/render.py --fonts build/fonts --seed 1 --count 30 --out build/second

Exit status: 0 all pictures are there, 1 something is missing or could not be written, 2 the command was wrong."""


def arguments():
    def count(text):
        value = int(text)
        if value < 0:
            raise argparse.ArgumentTypeError("must not be negative")
        return value

    parser = argparse.ArgumentParser(description=__doc__, epilog=EXAMPLE, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--fonts", type=Path, required=True, metavar="FOLDER",
                        help="where scripts/fetch_fonts put the fonts, as build/fonts")
    parser.add_argument("--seed", type=count, default=1, help="another number gives other pictures (1)")
    parser.add_argument("--count", type=count, default=1, help="how many pictures (1)")
    parser.add_argument("--start", type=count, default=0, help="number of the first picture, to draw with several processes (0)")
    parser.add_argument("--out", type=Path, required=True, metavar="FOLDER", help="where pictures go; made where it is missing")
    return parser.parse_args()


def write(path, content):
    """All of it or nothing."""
    part = path.with_name(path.name + ".part")
    part.write_bytes(content)
    os.replace(part, path)


def render(given):
    # Here, so that --help works before anything is installed.
    import cv2
    import numpy as np

    from fonts import Fonts
    from photograph import draw, name_of

    cv2.setNumThreads(1)
    np.seterr(over="ignore")   # exp() far outside a stain; the values are not used
    fonts = Fonts(given.fonts)
    given.out.mkdir(parents=True, exist_ok=True)
    paths = {number: (given.out / f"{name_of(given.seed, number)}.jpg", given.out / f"{name_of(given.seed, number)}.expected.json")
             for number in range(given.start, given.start + given.count)}
    missing = [number for number, both in paths.items() if not all(path.exists() for path in both)]
    if len(missing) < given.count:
        print(f"{given.count - len(missing)} of {given.count} pictures are there already", file=sys.stderr)
    started = time.monotonic()
    for done, number in enumerate(missing):
        picture, truth = draw(given.seed, number, fonts)
        write(paths[number][0], picture)
        write(paths[number][1], truth.encode("utf8"))
        left_s = (time.monotonic() - started) / (done + 1) * (len(missing) - done - 1)
        print(f"picture {done + 1} of {len(missing)}: {paths[number][0].name}, about {left_s:.0f} s left", file=sys.stderr, flush=True)


def main():
    given = arguments()
    try:
        render(given)
    except ModuleNotFoundError as missing:
        print(f"render: {missing}; it needs NumPy, OpenCV and Pillow: apt-get install python3-numpy python3-opencv python3-pil",
              file=sys.stderr)
    except KeyboardInterrupt:
        print("render: stopped; the same command goes on", file=sys.stderr)
    except OSError as error:
        print(f"render: {error}", file=sys.stderr)
    else:
        return 0
    return 1


if __name__ == "__main__":
    sys.exit(main())
