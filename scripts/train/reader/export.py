"""Write the net as ONNX and compare it with PyTorch.

  export.py --weights latest.pt --out models/reader/model.onnx [--check]

--check needs the onnxruntime package; it compares both on random lines of several widths and names the largest difference.
"""

import argparse

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
    torch.onnx.export(net, torch.zeros(1, 1, 64, 512), say.out, opset_version=13, input_names=["line"], output_names=["logits"],
                      dynamic_axes={"line": {0: "n", 3: "w"}, "logits": {0: "n", 1: "t"}})
    if say.check:
        import onnxruntime
        session = onnxruntime.InferenceSession(say.out)
        for n, w in ((1, 64), (1, 1024), (3, 512)):
            line = np.random.default_rng(w).standard_normal((n, 1, 64, w)).astype(np.float32)
            with torch.no_grad():
                mine = net(torch.from_numpy(line)).numpy()
            print(n, w, "largest difference", np.abs(mine - session.run(None, {"line": line})[0]).max())


if __name__ == "__main__":
    main()
