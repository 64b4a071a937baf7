"""Write a net as ONNX and compare it with PyTorch.

  export.py --weights latest.pt --out models/lines/model.onnx [--check]

--check needs the onnxruntime package; it names the largest difference on random crops of several sizes.
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
    torch.onnx.export(net, torch.zeros(1, 4, 256, 320), say.out, opset_version=13, input_names=["crop"], output_names=["marks"],
                      dynamic_axes={"crop": {0: "n", 2: "h", 3: "w"}, "marks": {0: "n", 2: "h2", 3: "w2"}})
    if say.check:
        import onnxruntime
        session = onnxruntime.InferenceSession(say.out)
        for n, h, w in ((1, 64, 96), (2, 384, 480)):
            crop = np.random.default_rng(w).standard_normal((n, 4, h, w)).astype(np.float32)
            with torch.no_grad():
                mine = net(torch.from_numpy(crop)).numpy()
            print(n, h, w, "largest difference", np.abs(mine - session.run(None, {"crop": crop})[0]).max())


if __name__ == "__main__":
    main()
