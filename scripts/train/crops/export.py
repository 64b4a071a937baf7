"""Write a net as ONNX and compare it with PyTorch.

  export.py --weights latest.pt --out models/lines/model.onnx [--crops FOLDER] [--check]

With --crops the net is written so that its convolutions work on whole numbers of 8 bits (../rounding.py, which needs the onnx package); FOLDER
holds crops of draw_crops.py, on which the scales of those numbers are settled.
--check needs the onnxruntime package; it names the largest and the mean difference on random crops of several sizes.
"""

import argparse
import pathlib
import sys

import numpy as np
import torch
from torch.nn import functional as F

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))   # where the trainings keep what they share

import rounding
from draw_crops import read
from net import load

PX_PER_MM = 5   # of what the net sees
CROPS = 60      # are enough to settle the scales
# The first convolution has too few channels to be quicker on whole numbers, and the answers need finer steps than theirs.
EXACT = ("s2.0", "head", "coarse")


def shown(crop):
    """A kept crop at the net's scale."""
    bgr = torch.from_numpy(np.ascontiguousarray(crop["bgr"].transpose(2, 0, 1))).float() / 127.5 - 1
    paper = (torch.from_numpy(crop["paper"]) > 127).float()[None]
    size = [int(side * PX_PER_MM / crop["px_per_mm"]) // 32 * 32 + 32 for side in crop["paper"].shape]
    return torch.cat([F.interpolate(bgr[None], size, mode="area"), F.interpolate(paper[None], size, mode="nearest")], 1)


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--weights", required=True)
    ask.add_argument("--out", required=True)
    ask.add_argument("--crops", type=pathlib.Path)
    ask.add_argument("--check", action="store_true")
    say = ask.parse_args()
    net = load(say.weights)
    if say.crops:
        crops = [crop for path in sorted(say.crops.glob("*.npz")) for crop in read(path)]
        net = rounding.rounded(net, (shown(crop) for crop in crops[::max(1, len(crops) // CROPS)]), EXACT)
    torch.onnx.export(net, torch.zeros(1, 4, 256, 320), say.out, opset_version=13, input_names=["crop"], output_names=["marks"],
                      dynamic_axes={"crop": {0: "n", 2: "h", 3: "w"}, "marks": {0: "n", 2: "h2", 3: "w2"}})
    if say.crops:
        rounding.pack(say.out)
    if say.check:
        import onnxruntime
        session = onnxruntime.InferenceSession(say.out)
        for n, h, w in ((1, 64, 96), (2, 384, 480)):
            crop = np.random.default_rng(w).standard_normal((n, 4, h, w)).astype(np.float32)
            with torch.no_grad():
                mine = net(torch.from_numpy(crop)).numpy()
            apart = np.abs(mine - session.run(None, {"crop": crop})[0])
            print(n, h, w, "largest difference", apart.max(), "mean", apart.mean())


if __name__ == "__main__":
    main()
