"""Write the net as ONNX and compare it with PyTorch.

  export.py --weights latest.pt --out models/finder/model.onnx [--check]

--check needs the onnxruntime package; it compares both on random pictures of several sizes and names the largest difference.
"""

import argparse
import inspect

import numpy as np
import torch

from net import load


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--weights", required=True)
    ask.add_argument("--out", required=True)
    ask.add_argument("--check", action="store_true")
    say = ask.parse_args()
    net = load(say.weights)
    older = {"dynamo": False} if "dynamo" in inspect.signature(torch.onnx.export).parameters else {}
    torch.onnx.export(net, torch.zeros(1, 3, 704, 1024), say.out, opset_version=13, input_names=["picture"], output_names=["marks"],
                      dynamic_axes={"picture": {0: "n", 2: "h", 3: "w"}, "marks": {0: "n", 2: "h2", 3: "w2"}}, **older)
    if say.check:
        import onnxruntime
        session = onnxruntime.InferenceSession(say.out)
        for n, h, w in ((1, 704, 1024), (1, 1024, 672), (2, 96, 160)):
            picture = np.random.default_rng(w).integers(0, 256, (n, 3, h, w)).astype(np.float32)
            with torch.no_grad():
                mine = net(torch.from_numpy(picture)).numpy()
            print(n, h, w, "largest difference", np.abs(mine - session.run(None, {"picture": picture})[0]).max())


if __name__ == "__main__":
    main()
