"""Pictures with a class per pixel, cut into windows and varied, all on the GPU.

A source is a stack of equally large pictures at about the same resolution. Windows are cut where the labels say that
the part lies: square to its axis for the fine network, at any turn for the coarse one.
"""
import glob
import os

import numpy as np
import torch
import torch.nn.functional as F
from PIL import Image

IGNORE = 255


def axis(label):
    """Centre of the sleeve (or of the bare conductor) and the unit direction from the wire to it, in px; None without."""
    ys, xs = np.nonzero((label == 4) | (label == 8))
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


class Source:
    def __init__(self, pictures, labels, ppm, device):
        keep, pose = [], []
        for k, l in enumerate(labels):
            a = axis(l)
            if a is not None:
                keep.append(k)
                pose.append((*a[0], *a[1]))
        self.ppm = ppm
        self.pictures = torch.from_numpy(np.stack([pictures[k] for k in keep])).permute(0, 3, 1, 2).contiguous().to(device)
        self.labels = torch.from_numpy(np.stack([labels[k] for k in keep])).to(device)
        self.pose = torch.tensor(pose, dtype=torch.float32, device=device)

    def __len__(self):
        return len(self.pose)


def load(folder, pattern, ppm, rims=False, held=11):
    """(training, held-back) lists of arrays; every held-th picture is held back."""
    out = [([], []), ([], [])]
    for k, f in enumerate(sorted(glob.glob(os.path.join(folder, pattern)))):
        p = np.asarray(Image.open(f).convert("RGB"))[..., ::-1]
        name = os.path.splitext(f)[0]
        l = np.asarray(Image.open(name + ".labels.png" if os.path.exists(name + ".labels.png") else name + ".png"))
        if rims:
            l = streaks(p, l)
        side = out[1] if held and k % held == held - 1 else out[0]
        side[0].append(p)
        side[1].append(l)
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
    s = torch.exp(rand(n, -spread, spread, dev)) * src.ppm / ppm
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

    over = 2 if src.ppm > 1.4 * ppm else 1
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
