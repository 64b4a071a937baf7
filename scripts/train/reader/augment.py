"""Cut a batch of lines out of one flat buffer of pictures on the GPU, changed as pens, paper and cameras change them.

All lines are 64 rows high. Geometry and sampling happen in one gather, so that a line is interpolated once.
"""

import torch
from torch.nn import functional as F

HEIGHT = 64
LEFT_PX = 8      # zeros on the left, as in the card


def _uniform(n, lo, hi, like):
    return lo + (hi - lo) * torch.rand(n, 1, 1, device=like.device)


def _sometimes(n, p, like):
    return (torch.rand(n, 1, 1, device=like.device) < p).float()


def _smooth(n, rows, cols, h, w, like):
    return F.interpolate(torch.randn(n, 1, rows, cols, device=like.device), (h, w), mode="bicubic", align_corners=True)[:, 0]


def sample(pixels, start, width, u, v, stride=None):
    """Bilinear reading of each line at columns u and rows v ([n, 64, any]); beyond its edges a line goes on as it ends. stride: width
    of the whole picture where `start` and `width` are those of a span of it."""
    stride = (width if stride is None else stride).view(-1, 1, 1)
    last = (width - 1).view(-1, 1, 1)
    u = torch.minimum(u.clamp(min=0), last.float())
    v = v.clamp(0, HEIGHT - 1)
    u0, v0 = u.floor(), v.floor()
    fu, fv = u - u0, v - v0
    u0, v0 = u0.long(), v0.long()
    u1, v1 = torch.minimum(u0 + 1, last), (v0 + 1).clamp(max=HEIGHT - 1)
    row0, row1 = start.view(-1, 1, 1) + v0 * stride, start.view(-1, 1, 1) + v1 * stride
    take = lambda at: pixels[at].float()
    top = take(row0 + u0) * (1 - fu) + take(row0 + u1) * fu
    low = take(row1 + u0) * (1 - fu) + take(row1 + u1) * fu
    return (top * (1 - fv) + low * fv) / 255


def normalise(grey, valid):
    """The card's steps 2 to 4: by mean and spread of the line itself, zeros outside it."""
    count = valid.sum((1, 2), keepdim=True).clamp(min=1)
    mean = (grey * valid).sum((1, 2), keepdim=True) / count
    spread = (((grey - mean) * valid) ** 2).sum((1, 2), keepdim=True).div(count).sqrt().clamp(min=2 / 255)
    return (((mean - grey) / spread).clamp(-4, 4) * valid)[:, None]


def plain(pixels, start, width, out_width):
    x = torch.arange(out_width, device=pixels.device).view(1, 1, -1).float()
    y = torch.arange(HEIGHT, device=pixels.device).view(1, -1, 1).float()
    n = start.shape[0]
    grey = sample(pixels, start, width, (x - LEFT_PX).expand(n, HEIGHT, -1), y.expand(n, -1, out_width))
    valid = ((x >= LEFT_PX) & (x < LEFT_PX + width.view(-1, 1, 1))).float().expand(n, HEIGHT, -1)
    return normalise(grey, valid)


def views(pixels, start, width, stride, out_width, stretch, left, right, real, papers, count):
    """The same lines `count` times, the letters in the same places, in other ink, on other paper, by another camera, with other parts hidden.

    stretch, left, right: horizontal scale and added margins in px, chosen with the batch; real: 1 for photographed lines;
    papers: [k, 64, many] backgrounds as shares of clean paper."""
    n, dev = start.shape[0], pixels.device
    x = torch.arange(out_width, device=dev).view(1, 1, -1).float()
    y = torch.arange(HEIGHT, device=dev).view(1, -1, 1).float()
    r3 = lambda t: t.view(-1, 1, 1).float()
    full = r3(left) + r3(width) * r3(stretch) + r3(right)
    valid = ((x >= LEFT_PX) & (x < LEFT_PX + full)).float().expand(n, HEIGHT, -1)
    like = pixels

    # geometry
    slant = _uniform(n, -0.5, 0.5, like) * _sometimes(n, 0.65, like)
    turn = _uniform(n, -0.03, 0.03, like) * _sometimes(n, 0.5, like)
    scale = torch.exp(_uniform(n, -0.34, 0.2, like) * _sometimes(n, 0.8, like))
    shift = torch.randn(n, 1, 1, device=dev) * 2.5
    bend = _sometimes(n, 0.6, like) * torch.rand(n, 1, 1, device=dev)
    cols = max(4, out_width // 40)
    du = _smooth(n, 4, cols, HEIGHT, out_width, like) * 2.8 * bend
    dv = _smooth(n, 3, cols, HEIGHT, out_width, like) * 2.0 * bend
    middle = LEFT_PX + full / 2
    drift = _smooth(n, 2, max(3, out_width // 250), HEIGHT, out_width, like) * _uniform(n, 0, 3, like) * _sometimes(n, 0.3, like)
    u = (x - LEFT_PX - r3(left)) / r3(stretch) + slant * (y - HEIGHT / 2) + du
    v = (y - HEIGHT / 2) / scale + HEIGHT / 2 + shift + turn * (x - middle).clamp(-400, 400) + dv + drift
    grey = sample(pixels, start, width, u, v, stride)
    return [hidden(finished(grey, full, valid, real, papers), full, valid) for _ in range(count)]


def hidden(line, full, valid):
    """Columns the net must do without: about one in seven of a normalised line."""
    n, dev = line.shape[0], line.device
    x = torch.arange(line.shape[3], device=dev).view(1, 1, -1).float()
    seen = torch.ones_like(valid[:, :1])
    for _ in range(6):
        middle = LEFT_PX + full * torch.rand(n, 1, 1, device=dev)
        on = torch.rand(n, 1, 1, device=dev) < (full / 900).clamp(max=0.8)
        seen = seen * (1 - ((x - middle).abs() < _uniform(n, 3, 16, line)).float() * on)
    return line * seen[:, None]


def finished(grey, full, valid, real, papers):
    """Ink, neighbours, paper, light, gaps and camera over lines that lie in their places; normalised."""
    n, _, out_width = grey.shape
    dev, like = grey.device, grey
    x = torch.arange(out_width, device=dev).view(1, 1, -1).float()
    y = torch.arange(HEIGHT, device=dev).view(1, -1, 1).float()
    r3 = lambda t: t.view(-1, 1, 1).float()

    # strokes thinner and thicker
    fat = -F.max_pool2d(-grey[:, None], 3, 1, 1)[:, 0]
    thin = F.max_pool2d(grey[:, None], 3, 1, 1)[:, 0]
    k = torch.rand(n, 1, 1, device=dev)
    share = _uniform(n, 0.2, 0.9, like)
    grey = torch.where(k < 0.2, grey + (fat - grey) * share, torch.where(k > 0.85, grey + (thin - grey) * share * 0.6, grey))

    # neighbours' ascenders and descenders
    other = grey.roll(1, 0)
    ink = (other / (other.mean((1, 2), keepdim=True) * 0.97)).clamp(0.1, 1)
    move = (_uniform(n, 34, 56, like) * torch.where(torch.rand(n, 1, 1, device=dev) < 0.5, -1.0, 1.0)).long()
    from_row = y.long() - move
    seen = ((from_row >= 0) & (from_row < HEIGHT)).float()
    ink = torch.gather(ink, 1, from_row.clamp(0, HEIGHT - 1).expand(n, HEIGHT, out_width))
    grey = grey * (1 - seen * _sometimes(n, 0.18, like) * (1 - ink))

    # paper, light, rules
    which = torch.randint(papers.shape[0], (n,), device=dev)
    at = torch.randint(papers.shape[2] - out_width + 1, (n, 1, 1), device=dev) + x.long()
    flip = torch.where(torch.rand(n, 1, 1, device=dev) < 0.5, y, HEIGHT - 1 - y).long()
    paper = papers[which.view(-1, 1, 1), flip, at].float()
    paper_share = _uniform(n, 0.2, 1.0, like) * (torch.rand(n, 1, 1, device=dev) < 0.08 + 0.22 * r3(real)).float()
    grey = grey * (1 + (paper - 1) * paper_share)
    grey = grey * (1 + _smooth(n, 2, max(3, out_width // 150), HEIGHT, out_width, like) * _uniform(n, 0, 0.12, like))
    rule = y - _uniform(n, 0, HEIGHT, like) - _uniform(n, -0.02, 0.02, like) * x
    grey = grey * (1 - _sometimes(n, 0.08, like) * _uniform(n, 0.1, 0.7, like) * torch.exp(-(rule / _uniform(n, 0.6, 1.6, like)) ** 2))
    edge = x - LEFT_PX - torch.where(torch.rand(n, 1, 1, device=dev) < 0.5, _uniform(n, 0, 12, like), full - _uniform(n, 0, 12, like))
    grey = grey * (1 - _sometimes(n, 0.06, like) * _uniform(n, 0.2, 0.8, like) * torch.exp(-(edge / _uniform(n, 0.6, 2.0, like)) ** 2))

    # small gaps
    for _ in range(4):
        cx, cy = LEFT_PX + full * torch.rand(n, 1, 1, device=dev), _uniform(n, 0, HEIGHT, like)
        gap = ((x - cx).abs() < _uniform(n, 1, 8, like)) & ((y - cy).abs() < _uniform(n, 3, 40, like)) & (torch.rand(n, 1, 1, device=dev) < 0.25)
        grey = torch.where(gap, grey.mean((1, 2), keepdim=True), grey)

    # camera
    mean = grey.mean((1, 2), keepdim=True)
    grey = (mean + (grey - mean) * _uniform(n, 0.35, 1.15, like)).clamp(0.001, 1)
    grey = grey ** torch.exp(_uniform(n, -0.5, 0.6, like) * _sometimes(n, 0.5, like))
    soft = F.avg_pool2d(F.pad(grey[:, None], (2, 2, 2, 2), mode="replicate"), 3, 1)
    softer = F.avg_pool2d(soft, 3, 1)[:, 0]
    soft = soft[:, 0, 1:-1, 1:-1]
    k = torch.rand(n, 1, 1, device=dev)
    grey = torch.where(k < 0.18, grey + (soft - grey) * _uniform(n, 0.3, 1, like), torch.where(k > 0.93, softer, grey))
    grey = grey + torch.randn_like(grey) * _uniform(n, 0, 0.05, like) * _sometimes(n, 0.5, like)
    grey = torch.where(torch.rand(n, 1, 1, device=dev) < 0.015, 1 - grey, grey)
    return normalise(grey, valid)
