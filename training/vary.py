"""Other grounds, shadows, clutter, light, lens and noise than the pictures came with, so that nothing of these is learnt."""
import math

import torch
import torch.nn.functional as F

from data import IGNORE, rand


def blurred(x, sigma):
    """Gaussian blur with one sigma (px) a sample."""
    r = int(3 * float(sigma.max()) + 1)
    t = torch.arange(-r, r + 1, device=x.device).float()
    k = torch.exp(-0.5 * (t[None] / sigma.clamp(min=1e-3)[:, None]) ** 2)
    k = k / k.sum(1, keepdim=True)
    n, c, h, w = x.shape
    k = k.repeat_interleave(c, 0)
    x = F.conv2d(F.pad(x.reshape(1, n * c, h, w), (r, r, 0, 0), mode="replicate"), k[:, None, None, :], groups=n * c)
    x = F.conv2d(F.pad(x, (0, 0, r, r), mode="replicate"), k[:, None, :, None], groups=n * c)
    return x.reshape(n, c, h, w)


def smooth_noise(n, h, w, cell, dev, anis=1.0):
    """Noise of unit spread whose lumps are about cell px wide, anis times longer along x."""
    gh, gw = max(2, int(h / cell) + 2), max(2, int(w / (cell * anis)) + 2)
    z = torch.randn(n, 1, gh, gw, device=dev)
    return F.interpolate(z, size=(h, w), mode="bicubic", align_corners=False)


def places(n, h, w, dev):
    """Coordinates turned by a random angle a sample, px from a random origin."""
    a = rand(n, 0, 2 * math.pi, dev)
    v, u = torch.meshgrid(torch.arange(h, device=dev).float(), torch.arange(w, device=dev).float(), indexing="ij")
    u, v = u[None] - rand(n, 0, w, dev)[:, None, None], v[None] - rand(n, 0, h, dev)[:, None, None]
    c, s = torch.cos(a)[:, None, None], torch.sin(a)[:, None, None]
    return c * u + s * v, c * v - s * u


def some(n, p, dev):
    return (torch.rand(n, device=dev) < p).float()[:, None, None, None]


def ground(n, h, w, ppm, dev):
    """Random grounds: plain, grained, woven, ruled, squared, printed, checked, graded."""
    base = torch.rand(n, 3, 1, 1, device=dev) * 0.5 + torch.rand(n, 1, 1, 1, device=dev) * 0.5
    grey = some(n, 0.5, dev)
    base = grey * base.mean(1, keepdim=True) * (1 + 0.06 * torch.randn(n, 3, 1, 1, device=dev)) + (1 - grey) * base
    g = base.expand(n, 3, h, w).clone()
    for cell, amp in ((1.5, .10), (6, .12), (30, .15), (120, .25)):
        g = g * (1 + some(n, 0.6, dev) * amp * rand(n, 0, 1, dev)[:, None, None, None] * smooth_noise(n, h, w, cell, dev))
    u, v = places(n, h, w, dev)
    fibre = torch.sin(u / (ppm * rand(n, .15, 2.5, dev))[:, None, None] * 2 * math.pi + 4 * smooth_noise(n, h, w, 60, dev)[:, 0])[:, None]
    g = g * (1 + some(n, 0.3, dev) * 0.25 * rand(n, 0, 1, dev)[:, None, None, None] * fibre)
    weave = (torch.sin(u * 2 * math.pi / (ppm * rand(n, .3, 1.5, dev))[:, None, None]) * torch.sin(v * 2 * math.pi / (ppm * rand(n, .3, 1.5, dev))[:, None, None]))[:, None]
    g = g * (1 + some(n, 0.2, dev) * 0.3 * rand(n, 0, 1, dev)[:, None, None, None] * weave)
    pitch, thick = (ppm * rand(n, 1, 12, dev))[:, None, None], (ppm * rand(n, .08, .6, dev))[:, None, None]
    lines_u, lines_v = (torch.remainder(u, pitch) < thick).float(), (torch.remainder(v, pitch) < thick).float()
    ink = torch.rand(n, 3, 1, 1, device=dev)
    ruled = torch.maximum(lines_u, lines_v * (torch.rand(n, device=dev) < 0.6).float()[:, None, None])[:, None] * some(n, 0.25, dev)
    g = g * (1 - ruled) + ink * ruled
    row = ppm * rand(n, 1.5, 6, dev)[:, None, None]
    text = (smooth_noise(n, h, w, max(2, ppm * .25), dev)[:, 0] > 0.3) & (torch.remainder(v, row) < row * .5) & (smooth_noise(n, h, w, ppm * 1.2, dev)[:, 0] > -0.3)
    text = text.float()[:, None] * some(n, 0.2, dev)
    g = g * (1 - text) + ink * text
    side = (ppm * rand(n, 2, 10, dev))[:, None, None]
    check = (((torch.floor(u / side) + torch.floor(v / side)) % 2)[:, None]) * some(n, 0.08, dev)
    g = g * (1 - check) + (0.1 + 0.3 * ink) * check
    edge = (u > 0).float()[:, None] * some(n, 0.25, dev)
    other = torch.rand(n, 3, 1, 1, device=dev) * (1 + 0.1 * smooth_noise(n, h, w, 4, dev))
    g = g * (1 - edge) + other * edge
    return g.clamp(0, 1.2)


def shapes(x, y_full, ppm, dev):
    """Clutter: bars, discs and hand-like lumps; most lie behind the part, some over it (which then is ground)."""
    n, _, h, w = x.shape
    over = torch.zeros(n, 1, h, w, dtype=torch.bool, device=dev)
    for kind in ("bar", "disc", "lump", "lump"):
        u, v = places(n, h, w, dev)
        half = (ppm * rand(n, .15, 5, dev))[:, None, None]
        t = v / half
        if kind == "bar":
            inside = (t.abs() < 1) & (u.abs() < (ppm * rand(n, 2, 30, dev))[:, None, None])
            phase = rand(n, 0, 6.3, dev)[:, None, None]
            tone = 0.5 + 0.45 * torch.sin(t * rand(n, 1, 7, dev)[:, None, None] + phase)
        elif kind == "disc":
            inside = (u * u + v * v) < half * half * 2
            tone = torch.full_like(t, 0.6) + 0.05 * u / half
        else:
            r = half * 2.5 * (1 + 0.35 * smooth_noise(n, h, w, 40, dev)[:, 0])
            inside = (u * u * 0.3 + v * v) < r * r
            tone = 0.65 + 0.15 * t.clamp(-2, 2)
        colour = torch.rand(n, 3, 1, 1, device=dev)
        skin = torch.tensor([0.45, 0.58, 0.85], device=dev)[None, :, None, None] * rand(n, .3, 1.1, dev)[:, None, None, None]
        colour = skin if kind == "lump" else 0.5 * colour + 0.5 * colour.mean(1, keepdim=True)
        fill = (colour * 1.6 * tone[:, None] * (1 + 0.08 * smooth_noise(n, h, w, 3, dev))).clamp(0, 1)
        use = some(n, 0.22, dev).bool()
        front = some(n, 0.15 if kind == "lump" else 0.04, dev).bool()
        free = (y_full == 0) | (y_full == IGNORE)
        m = inside[:, None] & use & (front | free[:, None])
        over |= m & ~free[:, None]
        soft = blurred(m.float(), rand(n, .3, .9, dev))
        soft = torch.where(front, soft, soft * m.float())
        x = x * (1 - soft) + fill * soft
    return x, over[:, 0]


def shadows(x, y_full, ppm, dev):
    n, _, h, w = x.shape
    part = ((y_full > 1) & (y_full != IGNORE)).float()[:, None]
    for _ in range(2):
        u, v = places(n, h, w, dev)
        soft = (ppm * rand(n, .02, 2, dev))[:, None, None]
        band = torch.sigmoid(u / soft) * torch.sigmoid(((ppm * rand(n, 3, 60, dev))[:, None, None] - u) / soft)
        depth = rand(n, .15, .85, dev)[:, None, None, None] * some(n, 0.2, dev)
        x = x * (1 - depth * band[:, None] * (1 + 0.1 * torch.randn(n, 3, 1, 1, device=dev)))
    # a cast shadow of the part itself, to any side
    k = [int(torch.randint(-int(1.8 * ppm), int(1.8 * ppm) + 1, (1,))) for _ in range(2)]
    cast = blurred(torch.roll(part, k, (2, 3)), rand(n, .3, .6 * ppm, dev).clamp(max=8)) * (1 - part)
    depth = rand(n, .2, .9, dev)[:, None, None, None] * some(n, 0.35, dev)
    return x * (1 - depth * cast)


def light(x, dev):
    n = x.shape[0]
    f = lambda lo, hi: rand(n, lo, hi, dev)[:, None, None, None]
    grey = x.mean(1, keepdim=True)
    x = grey + (x - grey) * f(0.0, 1.5)
    x = x * torch.exp(0.12 * torch.randn(n, 3, 1, 1, device=dev)) * torch.exp(0.35 * torch.randn(n, 1, 1, 1, device=dev))
    x = x.clamp(min=0) ** torch.exp(0.2 * torch.randn(n, 1, 1, 1, device=dev))
    h, w = x.shape[2:]
    u, v = places(n, h, w, dev)
    return x * (1 + some(n, 0.5, dev) * 0.35 * torch.tanh(u / w)[:, None])


def lens(x, dev, most=1.6):
    n = x.shape[0]
    x = blurred(x, rand(n, 0.05, most, dev) * (torch.rand(n, device=dev) < 0.6))
    sharp = some(n, 0.4, dev) * rand(n, 0, .9, dev)[:, None, None, None]
    x = x + sharp * (x - blurred(x, torch.full((n,), 1.0, device=dev)))
    noise = rand(n, 0, .04, dev)[:, None, None, None]
    x = x + noise * torch.randn_like(x)
    coarse = F.interpolate(torch.randn(n, 3, x.shape[2] // 2, x.shape[3] // 2, device=dev), size=x.shape[2:], mode="nearest")
    x = x + noise * some(n, 0.5, dev) * coarse
    return (x.clamp(0, 1) * 255).round() / 255


def vary(x, y, ppm, stem):
    """x: pictures 0..1 (n, 3, h, w); y: labels (n, h/stem, w/stem). Returns varied pictures and labels."""
    dev = x.device
    n, _, h, w = x.shape
    full = y if stem == 1 else F.interpolate(y[:, None].float(), scale_factor=stem, mode="nearest")[:, 0].long()
    free = ((full == 0) | (full == IGNORE)).float()[:, None]
    grey = x.mean(1, keepdim=True)
    usual = (grey * free).sum((2, 3), keepdim=True) / free.sum((2, 3), keepdim=True).clamp(min=1)
    shade = (blurred(grey, torch.full((n,), 1.0, device=dev)) / usual.clamp(min=.03)).clamp(.1, 1.5)
    shade = torch.where(some(n, 0.6, dev).bool(), shade, torch.ones_like(shade))
    new = ground(n, h, w, ppm, dev) * shade
    alpha = (blurred(free, torch.full((n,), 0.8, device=dev)) * 2 - 1).clamp(0, 1) * some(n, 0.6, dev)
    x = x * (1 - alpha) + new * alpha
    x, over = shapes(x, full, ppm, dev)
    if stem > 1:
        over = F.max_pool2d(over.float()[:, None], stem)[:, 0] > 0.5
    y = torch.where(over & (y != IGNORE), torch.zeros_like(y), y)
    x = shadows(x, full, ppm, dev)
    return lens(light(x, dev), dev), y
