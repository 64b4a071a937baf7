"""Nets whose convolutions work on whole numbers of 8 bits: a third of the time, a quarter of the file.

`rounded` makes such a net of one that works in floats; when it is written as ONNX, every rounding becomes a pair of QuantizeLinear and
DequantizeLinear, and `packed` tidies the file so that the runtime joins them with the convolutions between.

Weights have one scale an output channel and 7 bits: processors without instructions for sums of products of bytes add two of them in 16 bits,
which 8 bits would overflow. What goes from layer to layer has one scale for each, settled on pictures that the net may see.
Jacob and others, "Quantization and training of neural networks for efficient integer-arithmetic-only inference", 2018.
"""

import numpy as np
import torch
from torch import fx, nn
from torch.ao.quantization import FakeQuantize, HistogramObserver, MinMaxObserver, disable_fake_quant, disable_observer, enable_fake_quant
from torch.fx.experimental.optimization import fuse
from torch.nn import functional as F
from torch.nn.utils import parametrize

LARGEST_WEIGHT = 63


class RoundedWeight(nn.Module):
    def __init__(self, weight):
        super().__init__()
        scale = weight.detach().abs().amax((1, 2, 3)).clamp(min=1e-8) / LARGEST_WEIGHT
        self.register_buffer("scale", scale)
        self.register_buffer("zero", torch.zeros_like(scale, dtype=torch.int32))

    def forward(self, weight):
        return torch.fake_quantize_per_channel_affine(weight, self.scale, self.zero, 0, -128, 127)


def _log_softmax(x, dim):
    """In steps: the runtime's own takes ten times as long where the classes are the channels."""
    x = x - x.amax(dim, keepdim=True)
    return x - x.exp().sum(dim, keepdim=True).log()


def _plan(net, exact):
    """The nodes of the net's graph that work on whole numbers: convolutions, and sums, ReLU and changes of size next to them."""
    modules = dict(net.named_modules())

    def kind(node):
        target = type(modules[node.target]).__name__ if node.op == "call_module" else getattr(node.target, "__name__", node.op)
        return {"Conv2d": "conv", "ReLU": "relu", "relu": "relu", "add": "add", "interpolate": "resize"}.get(target)

    kinds = {node: kind(node) for node in net.graph.nodes}
    may = lambda node: kinds[node] and not (node.op == "call_module" and any(f"{node.target}.".startswith(f"{name}.") for name in exact))
    whole = {node for node in kinds if may(node) and kinds[node] == "conv"}
    for node in reversed(net.graph.nodes):
        if may(node) and any(user in whole for user in node.users):
            whole.add(node)
    for node in net.graph.nodes:
        if may(node) and kinds[node] == "relu" and node.args[0] in whole:
            whole.add(node)
    return kinds, whole


def rounded(net, pictures, exact):
    """A copy of the net that rounds; `net` is in eval mode.

    pictures: inputs of the net to settle the scales on
    exact: names of the modules that go on in floats, with all within them
    """
    net = fuse(net)
    kinds, whole = _plan(net, exact)
    modules = dict(net.named_modules())
    rounding = {}   # of the value of a node
    for node in list(net.graph.nodes):
        if node.target is F.log_softmax:
            node.target, node.kwargs = _log_softmax, {"dim": node.kwargs["dim"]}
        if node in whole and kinds[node] == "conv":
            conv = modules[node.target]
            parametrize.register_parametrization(conv, "weight", RoundedWeight(conv.weight))
        joined = node in whole and len(node.users) == 1 and all(kinds[user] == "relu" and user in whole for user in node.users)
        if joined or not (node in whole or any(user in whole for user in node.users)):
            continue
        if kinds[node] == "resize" and node.args[0] in rounding:
            name = rounding[node.args[0]]
        else:
            name = f"rounding{len(rounding)}"
            observer = HistogramObserver if kinds[node] else MinMaxObserver   # the picture itself keeps its whole range
            net.add_submodule(name, FakeQuantize(observer=observer, quant_min=0, quant_max=255, dtype=torch.quint8,
                                                 qscheme=torch.per_tensor_affine))
        with net.graph.inserting_after(node):
            new = net.graph.call_module(name, (node,))
        node.replace_all_uses_with(new, lambda user: user is not new)
        rounding[new] = name
    net.graph.lint()
    net.recompile()

    net.apply(disable_fake_quant)
    convs = [module for module in net.modules() if parametrize.is_parametrized(module, "weight")]
    seen = {conv: [] for conv in convs}
    watched = [conv.register_forward_pre_hook(lambda conv, given: seen[conv].append(given[0].mean((0, 2, 3)))) for conv in convs]
    with torch.no_grad():
        for picture in pictures:
            net(picture)
    for one in watched:
        one.remove()
    net.apply(disable_observer)
    net.apply(enable_fake_quant)
    for one in net.modules():
        if isinstance(one, FakeQuantize):
            scale, zero = one.calculate_qparams()
            one.scale, one.zero_point = scale.reshape(()), zero.reshape(())   # one number, not a list of one
    with torch.no_grad():
        for conv in convs:   # what the rounding of its weights adds to a channel on average is taken off again
            change = conv.weight - conv.parametrizations.weight.original
            conv.bias -= change.sum((2, 3)) @ torch.stack(seen[conv]).mean(0)
    return net.eval()


def packed(path):
    """Rewrites an ONNX file of a rounded net: weights as whole numbers, and doubling in size as copying of whole rows of channels.

    The answers stay the same to the bit; the file gets smaller, and the runtime, which lays the channels of a pixel side by side, quicker."""
    import onnx
    from onnx import helper, numpy_helper

    model = onnx.load(path)
    graph = model.graph
    known = {one.name: numpy_helper.to_array(one) for one in graph.initializer}
    known |= {node.output[0]: numpy_helper.to_array(node.attribute[0].t) for node in graph.node if node.op_type == "Constant"}
    known |= {node.output[0]: known[node.input[0]] for node in graph.node if node.op_type == "Identity" and node.input[0] in known}
    for node in graph.node:
        if node.op_type == "QuantizeLinear" and node.input[0] in known:
            weight, scale, zero = (known[name] for name in node.input)
            known[node.output[0]] = np.clip(np.rint(weight / scale.reshape(-1, 1, 1, 1)), -128, 127).astype(zero.dtype)

    maker = {name: node for node in graph.node for name in node.output}
    taker = {name: node for node in graph.node for name in node.input}
    nodes = []
    copied = set()
    for node in graph.node:
        # Rounded, doubled, rounded again with the same scale: the whole numbers themselves can be copied.
        if node.op_type == "Resize" and maker[node.input[0]].op_type == "DequantizeLinear" and taker[node.output[0]].op_type == "QuantizeLinear":
            source, target = maker[node.input[0]].input[0], taker[node.output[0]].output[0]
            weight = maker[maker[maker[source].input[0]].input[1]].input[0]
            at = lambda step: f"{node.name}/{step}"
            known[at("shape")] = np.array([0, -1, 0, len(known[weight])])
            nodes += [helper.make_node("Transpose", [source], [at("pixels")], perm=[0, 2, 3, 1]),
                      helper.make_node("Concat", [at("pixels")] * 2, [at("wide")], axis=3),
                      helper.make_node("Concat", [at("wide")] * 2, [at("high")], axis=2),
                      helper.make_node("Reshape", [at("high"), at("shape")], [at("doubled")]),
                      helper.make_node("Transpose", [at("doubled")], [target], perm=[0, 3, 1, 2])]
            copied.add(target)
        elif node.output[0] not in copied:
            nodes.append(node)

    used, kept = {one.name for one in graph.output}, []
    for node in reversed(nodes):
        if node.output[0] in used and node.output[0] not in known:
            kept.insert(0, node)
            used.update(node.input)
    del graph.node[:], graph.initializer[:]
    graph.node.extend(kept)
    graph.initializer.extend(numpy_helper.from_array(known[name], name) for name in known if name in used)
    onnx.checker.check_model(model)
    onnx.save(model, path)
