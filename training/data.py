"""Pictures with a class per pixel, cut into windows and varied, all on the GPU.

A source is a stack of equally large pictures at about the same resolution. Windows are cut where the labels say that
the part lies: square to its axis for the fine network, at any turn for the coarse one.
"""
import glob
import json
import os

import numpy as np
import torch
import torch.nn.functional as F
from PIL import Image

IGNORE = 255
SLEEVE, THROUGH, SIDE = 4, 8, 9


def axis(label):
    """Centre of the sleeve (or of the bare conductor) and the unit direction from the wire to it, in px; None without."""
    ys, xs = np.nonzero((label == SLEEVE) | (label == THROUGH) | (label == SIDE))
    if len(xs) < 30:
        ys, xs = np.nonzero(label == 3)
    wy, wx = np.nonzero(label == 2)
    if len(xs) < 30 or len(wx) < 30:
        return None
    c = np.array([xs.mean(), ys.mean()])
    p = np.stack([wx, wy], 1) - c
    near = np.hypot(*p.T)
    near = near < np.percentile(near, 40)
    d = -p[near].mean(0)
    return c, d / np.hypot(*d)


def streaks(picture, label):
    """Mark as unknown what a picture's repeated rim covers: rows and columns from the border inwards that equal their
    neighbours while something other than ground lies beyond."""
    out = label.copy()
    for turn in range(4):
        p, l = np.rot90(picture, turn).astype(np.int16), np.rot90(out, turn)
        step = np.abs(np.diff(p, axis=0)).mean((1, 2))
        k = 0
        while k < len(step) and step[k] < 0.7:
            k += 1
        if k > 2 and (np.ptp(p[k], axis=0).max() > 60):
            l[:k] = IGNORE
    return out


def split_view(label, ppm):
    """Tell the sleeves of parts that lie on their side (class 9) from those that lie seam up (4). Where no truth says so
    the label map does: only a seam shows strands along the sleeve's middle, and the neck of a part on its side is open
    to one side. Doubtful sleeves become unknown."""
    ys, xs = np.nonzero((label == SLEEVE) | (label == THROUGH))
    a = axis(label)
    if a is None or len(xs) < 60 * (ppm / 8) ** 2:
        return label
    c, d = a
    n = np.array([-d[1], d[0]])
    p = np.stack([xs, ys], 1) - c
    s, t = p @ d / ppm, p @ n / ppm
    mid, front = (np.percentile(t, 97) + np.percentile(t, 3)) / 2, np.percentile(s, 99)
    length = max(1, np.percentile(s, 98) - np.percentile(s, 2))
    ey, ex = np.nonzero(label == THROUGH)
    seam = len(np.unique(np.round((np.stack([ex, ey], 1) - c) @ d / ppm * 8))) / (8 * length)
    by, bx = np.nonzero(label == 6)
    b = np.stack([bx, by], 1) - c
    neck = ((b @ d) / ppm > front + .2) & ((b @ d) / ppm < front + 1.6)
    t = (b @ n / ppm - mid)[neck]
    uneven = abs((t > 0).sum() - (t < 0).sum()) / len(t) if len(t) > 10 * (ppm / 8) ** 2 else None
    if seam < 0.05 and uneven is not None and uneven > 0.35:
        view = SIDE
    elif seam >= 0.05 or uneven is not None and uneven < 0.15:
        view = SLEEVE
    else:
        view = IGNORE
    out = label.copy()
    out[label == SLEEVE] = view
    return out


class Source:
    def __init__(self, items, device):
        """items: (picture, label, px per mm), all pictures of one size."""
        items = [(p, l, ppm, axis(np.where(l == IGNORE, 0, l))) for p, l, ppm in items]
        items = [i for i in items if i[3] is not None]
        self.pictures = torch.from_numpy(np.stack([i[0] for i in items])).permute(0, 3, 1, 2).contiguous().to(device)
        self.labels = torch.from_numpy(np.stack([i[1] for i in items])).to(device)
        self.ppm = torch.tensor([i[2] for i in items], dtype=torch.float32, device=device)
        self.pose = torch.tensor([(*i[3][0], *i[3][1]) for i in items], dtype=torch.float32, device=device)

    def __len__(self):
        return len(self.pose)


def load(folder, pattern, ppm, rims=False, held=11):
    """(training, held-back) lists of (picture, label, px per mm); every held-th picture is held back. Pictures with a truth
    file beside them bring their own resolution and view."""
    out = ([], [])
    for k, f in enumerate(sorted(glob.glob(os.path.join(folder, pattern)))):
        name = os.path.splitext(f)[0]
        labels = name + ".labels.png"
        p = np.asarray(Image.open(f).convert("RGB"))[..., ::-1]
        l = np.asarray(Image.open(labels if os.path.exists(labels) else name + ".png"))
        own = ppm
        if os.path.exists(name + ".json"):
            truth = json.load(open(name + ".json"))
            own = truth["conditions"]["px_per_mm"]
            if truth["view"] == "side":
                l = np.where(l == SLEEVE, SIDE, l).astype(np.uint8)
        else:
            l = split_view(l, ppm)
        if rims:
            l = streaks(p, l)
        out[k % held == held - 1].append((np.ascontiguousarray(p), l, own))
    return out


def rand(n, lo, hi, device):
    return lo + (hi - lo) * torch.rand(n, device=device)


def windows(src, idx, ppm, size, stem, turn, shift, spread, mirror=True):
    """Cut windows of size (columns, rows) at ppm. turn: radians either way off the part's axis, shift: mm, spread:
    relative change of scale. Labels come at 1/stem of the resolution."""
    dev, n = src.pose.device, len(idx)
    w, h = size
    pose = src.pose[idx]
    a = torch.atan2(pose[:, 3], pose[:, 2]) + rand(n, -turn, turn, dev)
    s = torch.exp(rand(n, -spread, spread, dev)) * src.ppm[idx] / ppm
    flip = torch.where(torch.rand(n, device=dev) < 0.5, -1.0, 1.0) if mirror else torch.ones(n, device=dev)
    dx, dy = rand(n, -shift[0], shift[0], dev) * ppm, rand(n, -shift[1], shift[1], dev) * ppm
    hgt, wid = src.labels.shape[1:]

    def grid(step):
        u = (torch.arange(int(w / step), device=dev) + 0.5) * step - w / 2
        v = (torch.arange(int(h / step), device=dev) + 0.5) * step - h / 2
        u, v = u[None, None, :] + dx[:, None, None], (v[None, :, None] + dy[:, None, None]) * flip[:, None, None]
        c, sn = torch.cos(a)[:, None, None], torch.sin(a)[:, None, None]
        x = pose[:, 0, None, None] + s[:, None, None] * (c * u - sn * v)
        y = pose[:, 1, None, None] + s[:, None, None] * (sn * u + c * v)
        return torch.stack([(x + 0.5) / wid * 2 - 1, (y + 0.5) / hgt * 2 - 1], -1)

    over = int(min(4, max(1, round(float(src.ppm.median()) / ppm))))
    pics = src.pictures[idx].float() / 255
    g = grid(1 / over)
    x = F.grid_sample(pics, g, mode="bilinear", padding_mode="border", align_corners=False)
    if over > 1:
        x = F.avg_pool2d(x, over)
    gl = grid(stem)
    lab = src.labels[idx][:, None].float()
    y = F.grid_sample(lab, gl, mode="nearest", padding_mode="border", align_corners=False)[:, 0].long()
    out = (gl.abs() > 1).any(-1)
    y[out] = IGNORE
    black = (torch.rand(n, device=dev) < 0.7)[:, None, None, None]
    far = (grid(1).abs() > 1).any(-1)[:, None] & black
    return x.masked_fill(far, 0), y
