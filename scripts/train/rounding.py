"""Nets whose convolutions work on whole numbers of 8 bits: a third of the time, a quarter of the file.

`rounded` makes such a net of one that works on floats. Written as ONNX every rounding is a pair of QuantizeLinear and DequantizeLinear, which
the runtime joins with the layer between; `pack` readies the file for that.

Weights have 7 bits, and one scale an output channel: processors without instructions for bytes add two products in 16 bits, which 8 bits by 8
would overflow. What goes from layer to layer has 8 bits and one scale, settled on pictures such as the net will see.
Jacob and others, "Quantization and training of neural networks for efficient integer-arithmetic-only inference", 2018; for the biases
Nagel and others, "Data-free quantization through weight equalization and bias correction", 2019.
"""

import numpy as np
import torch
from torch import nn
from torch.ao.quantization import FakeQuantize, HistogramObserver, MinMaxObserver, disable_fake_quant, disable_observer, enable_fake_quant
from torch.fx.experimental.optimization import fuse
from torch.nn import functional as F
from torch.nn.utils import parametrize

LARGEST_WEIGHT = 63
KINDS = {"Conv2d": "conv", "ReLU": "relu", "relu": "relu", "add": "add", "interpolate": "resize"}   # of layers that can work on whole numbers


class RoundedWeight(nn.Module):
    def __init__(self, weight):
        super().__init__()
        scale = weight.detach().abs().amax((1, 2, 3)).clamp(min=1e-8) / LARGEST_WEIGHT
        self.register_buffer("scale", scale)
        self.register_buffer("zero", torch.zeros_like(scale, dtype=torch.int32))

    def forward(self, weight):
        return torch.fake_quantize_per_channel_affine(weight, self.scale, self.zero, 0, -128, 127)


def _log_softmax(x, dim):
    """In steps: the runtime's own takes four times as long where the classes are the channels."""
    x = x - x.amax(dim, keepdim=True)
    return x - x.exp().sum(dim, keepdim=True).log()


def _whole(net, exact):
    """The nodes of the net's graph that work on whole numbers, and what kind of layer they are."""
    modules = dict(net.named_modules())
    kinds = {}
    for node in net.graph.nodes:
        if node.op == "call_module" and not any(f"{node.target}.".startswith(f"{name}.") for name in exact):
            kinds[node] = KINDS.get(type(modules[node.target]).__name__)
        elif node.op == "call_function":
            kinds[node] = KINDS.get(node.target.__name__)
    kinds = {node: kind for node, kind in kinds.items() if kind}
    whole = {node: kind for node, kind in kinds.items() if kind == "conv"}
    for node in reversed(net.graph.nodes):   # what leads to a convolution
        if node in kinds and any(user in whole for user in node.users):
            whole[node] = kinds[node]
    for node, kind in kinds.items():         # and what comes right behind one
        if kind == "relu" and node.args[0] in whole:
            whole[node] = kind
    return whole


def rounded(net, pictures, exact):
    """A copy of a net, in eval mode, that rounds.

    pictures: inputs of the net
    exact: names of the modules that go on working on floats
    """
    net = fuse(net)
    graph, whole, modules = net.graph, _whole(net, exact), dict(net.named_modules())
    convs, rounding = [], {}
    for node in list(graph.nodes):
        if node.target is F.log_softmax:
            node.target, node.kwargs = _log_softmax, {"dim": node.kwargs["dim"]}
        if whole.get(node) == "conv":
            convs.append(modules[node.target])
            parametrize.register_parametrization(convs[-1], "weight", RoundedWeight(convs[-1].weight))
        cut_off_next = node in whole and [whole.get(user) for user in node.users] == ["relu"]   # rounded after that
        if cut_off_next or not (node in whole or any(user in whole for user in node.users)):
            continue
        if whole.get(node) == "resize" and node.args[0] in rounding:
            name = rounding[node.args[0]]
        else:
            name = f"rounding{len(rounding)}"
            observer = HistogramObserver if node in whole or node.op == "call_module" else MinMaxObserver   # a picture keeps its whole range
            net.add_submodule(name, FakeQuantize(observer, 0, 255, dtype=torch.quint8, qscheme=torch.per_tensor_affine))
        with graph.inserting_after(node):
            new = graph.call_module(name, (node,))
        node.replace_all_uses_with(new, lambda user: user is not new)
        rounding[new] = name
    graph.lint()
    net.recompile()

    net.apply(disable_fake_quant)
    means = {conv: [] for conv in convs}   # of the input's channels
    watching = [conv.register_forward_pre_hook(lambda conv, given: means[conv].append(given[0].mean((0, 2, 3)))) for conv in convs]
    with torch.no_grad():
        for picture in pictures:
            net(picture)
    for one in watching:
        one.remove()
    net.apply(disable_observer)
    net.apply(enable_fake_quant)
    for one in net.modules():
        if isinstance(one, FakeQuantize):
            scale, zero = one.calculate_qparams()
            one.scale, one.zero_point = scale.reshape(()), zero.reshape(())   # one number, not a list of one
    with torch.no_grad():
        for conv in convs:   # what its rounded weights add to a channel on average is taken off again
            change = conv.weight - conv.parametrizations.weight.original
            conv.bias -= change.sum((2, 3)) @ torch.stack(means[conv]).mean(0)
    return net.eval()


def pack(path):
    """Rewrites an ONNX file of a rounded net, its answers the same to the bit: weights are kept as whole numbers, and pictures doubled in size by
    copying. The runtime keeps the channels of a pixel side by side, so that whole rows of them are copied, while its own Resize goes value by value."""
    import onnx
    from onnx import helper, numpy_helper

    model = onnx.load(path)
    graph = model.graph
    known = {one.name: numpy_helper.to_array(one) for one in graph.initializer}
    for node in graph.node:
        if node.op_type == "Constant":
            known[node.output[0]] = numpy_helper.to_array(node.attribute[0].t)
        elif node.op_type == "Identity" and node.input[0] in known:
            known[node.output[0]] = known[node.input[0]]
        elif node.op_type == "QuantizeLinear" and node.input[0] in known:
            weight, scale, zero = (known[name] for name in node.input)
            known[node.output[0]] = np.clip(np.rint(weight / scale.reshape(-1, 1, 1, 1)), -128, 127).astype(zero.dtype)

    maker = {name: node for node in graph.node for name in node.output}
    taker = {name: node for node in graph.node for name in node.input}
    nodes, copied = [], set()
    for node in graph.node:
        if node.op_type == "Resize" and maker[node.input[0]].op_type == "DequantizeLinear" and taker[node.output[0]].op_type == "QuantizeLinear":
            source, target = maker[node.input[0]].input[0], taker[node.output[0]].output[0]   # whole numbers of the same scale
            weight = maker[maker[maker[source].input[0]].input[1]].input[0]
            step = lambda name: f"{node.name}/{name}"
            known[step("shape")] = np.array([0, -1, 0, len(known[weight])])
            nodes += [helper.make_node("Transpose", [source], [step("pixels")], perm=[0, 2, 3, 1]),
                      helper.make_node("Concat", [step("pixels")] * 2, [step("wide")], axis=3),
                      helper.make_node("Concat", [step("wide")] * 2, [step("high")], axis=2),
                      helper.make_node("Reshape", [step("high"), step("shape")], [step("doubled")]),
                      helper.make_node("Transpose", [step("doubled")], [target], perm=[0, 3, 1, 2])]
            copied.add(target)
        elif node.output[0] not in known and node.output[0] not in copied:
            nodes.append(node)

    used, kept = {one.name for one in graph.output}, []
    for node in reversed(nodes):
        if node.output[0] in used:
            used.update(node.input)
            kept.insert(0, node)
    del graph.node[:], graph.initializer[:]
    graph.node.extend(kept)
    graph.initializer.extend(numpy_helper.from_array(known[name], name) for name in known if name in used)
    onnx.checker.check_model(model)
    onnx.save(model, path)
