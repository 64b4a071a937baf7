"""Write the net as ONNX and compare it with PyTorch.

  export.py --weights latest.pt --out models/finder/model.onnx [--photos FOLDER] [--check]

With --photos the net is written so that its convolutions work on whole numbers of 8 bits (../rounding.py, which needs the onnx package); FOLDER
holds photographs of photos.py, on which the scales of those numbers are settled.
--check needs the onnxruntime package; it compares both on random pictures of several sizes and names the largest and the mean difference.
"""

import argparse
import inspect
import pathlib
import sys

import numpy as np
import torch

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))   # where the trainings keep what they share

import photos
import rounding
from net import load

EXACT = ("whole", "head")   # the mean of the whole picture, which costs nothing, and the answers, which need finer steps


def shown(path):
    picture = photos.read(path)[0]
    return torch.from_numpy(np.array(picture)).permute(2, 0, 1)[None].float()


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--weights", required=True)
    ask.add_argument("--out", required=True)
    ask.add_argument("--photos", type=pathlib.Path)
    ask.add_argument("--check", action="store_true")
    say = ask.parse_args()
    net = load(say.weights)
    if say.photos:
        net = rounding.rounded(net, (shown(path) for path in sorted(say.photos.glob("*.webp"))), EXACT)
    older = {"dynamo": False} if "dynamo" in inspect.signature(torch.onnx.export).parameters else {}
    torch.onnx.export(net, torch.zeros(1, 3, 704, 1024), say.out, opset_version=13, input_names=["picture"], output_names=["marks"],
                      dynamic_axes={"picture": {0: "n", 2: "h", 3: "w"}, "marks": {0: "n", 2: "h2", 3: "w2"}}, **older)
    if say.photos:
        rounding.pack(say.out)
    if say.check:
        import onnxruntime
        session = onnxruntime.InferenceSession(say.out)
        for n, h, w in ((1, 704, 1024), (1, 1024, 672), (2, 96, 160)):
            picture = np.random.default_rng(w).integers(0, 256, (n, 3, h, w)).astype(np.float32)
            with torch.no_grad():
                mine = net(torch.from_numpy(picture)).numpy()
            apart = np.abs(mine - session.run(None, {"picture": picture})[0])
            print(n, h, w, "largest difference", apart.max(), "mean", apart.mean())


if __name__ == "__main__":
    main()
