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
    names = ["kind", "line"] if net.task == "lines" else ["damage"]
    torch.onnx.export(net, torch.zeros(1, 4, 256, 320), say.out, opset_version=13, input_names=["crop"], output_names=names,
                      dynamic_axes={"crop": {0: "n", 2: "h", 3: "w"}} | {n: {0: "n", 2: "h2", 3: "w2"} for n in names})
    if say.check:
        import onnxruntime
        session = onnxruntime.InferenceSession(say.out)
        for n, h, w in ((1, 64, 96), (2, 384, 480)):
            crop = np.random.default_rng(w).standard_normal((n, 4, h, w)).astype(np.float32)
            with torch.no_grad():
                mine = net(torch.from_numpy(crop))
            mine = mine if isinstance(mine, tuple) else (mine,)
            for name, a, b in zip(names, mine, session.run(None, {"crop": crop})):
                print(n, h, w, name, "largest difference", np.abs(a.numpy() - b).max())


if __name__ == "__main__":
    main()
