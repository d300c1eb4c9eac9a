"""Train one of the networks and write checkpoint, ONNX files, figures and example pictures.

    python3 train.py --net fine --data DIR --out DIR [--steps 6000] [--batch 48] [--start CHECKPOINT]

DIR holds crop-*.webp (8 px/mm) and fine-*.webp (16 px/mm) with their label maps, and in drawn8/ and drawn16/ pictures
rendered by internal/drawn/cmd/draw with -view mix -labels, 900 and 1600 px wide.
"""
import argparse
import json
import os
import time

import numpy as np
import torch
import torch.nn.functional as F

import data
import model
from vary import vary

WEIGHTS = {  # rarer classes count more
    "coarse": [1, 1, 1.5, 3, 2, 3, 1.5, 3, 3, 2],
    "fine": [1, 1, 1, 2, 1.5, 2.5, 1, 4, 3, 1.5],
}


def sources(net, folder, device):
    """(name, training source, held-back source, share of the batches)."""
    sets = []

    def add(pattern, ppm, share, rims=False):
        train, held = data.load(folder, pattern, ppm, rims)
        sizes = {p.shape for p, _, _ in train}
        for size in sorted(sizes):
            mine, back = ([i for i in part if i[0].shape == size] for part in (train, held))
            if len(mine) >= 8:
                sets.append((pattern, data.Source(mine, device), data.Source(back, device) if back else None, share * len(mine) / len(train)))

    if net == "coarse":
        add("crop-*.webp", 8, 0.6)
        add("drawn8/*.jpg", None, 0.4)
    else:
        add("fine-*.webp", 16, 0.5, rims=True)
        add("crop-*.webp", 8, 0.1)
        add("drawn16/*.jpg", None, 0.4)
    return sets


def cut(net, src, idx, easy=False):
    n = model.NETS[net]
    if net == "coarse":
        turn, shift, spread = 3.15, (14, 14), 0.25
    else:
        turn, shift, spread = 0.25, (2.5, 1.2), 0.12
    if easy:
        turn, shift, spread = turn * 0.4, tuple(0.4 * s for s in shift), 0.3 * spread
    return data.windows(src, idx, n["ppm"], n["window"], n["stem"], turn, shift, spread)


def loss_of(scores, y, weights):
    ce = F.cross_entropy(scores, y, weight=weights, ignore_index=data.IGNORE)
    known = (y != data.IGNORE)
    p = scores.softmax(1) * known[:, None]
    t = F.one_hot(y.clamp(max=model.CLASSES - 1), model.CLASSES).permute(0, 3, 1, 2) * known[:, None]
    inter, total = (p * t).sum((0, 2, 3)), (p + t).sum((0, 2, 3))
    there = t.sum((0, 2, 3)) > 50
    dice = 1 - (2 * inter + 1) / (total + 1)
    return ce + 0.5 * (dice * there).sum() / there.sum().clamp(min=1)


@torch.no_grad()
def judge(net, m, sets, seed=7, varied=False):
    torch.manual_seed(seed)
    out = {}
    for name, _, held, _ in sets:
        if held is None:
            continue
        inter, union = torch.zeros(2, model.CLASSES, device="cuda")
        for rep in range(4 if varied else 2):
            for k in range(0, len(held), 32):
                idx = torch.arange(k, min(len(held), k + 32), device="cuda")
                x, y = cut(net, held, idx, easy=True)
                if varied:
                    x, y = vary(x, y, model.NETS[net]["ppm"], model.NETS[net]["stem"])
                got = m(x * 2 - 1).argmax(1)
                known = y != data.IGNORE
                for c in range(model.CLASSES):
                    a, b = (got == c) & known, (y == c) & known
                    inter[c] += (a & b).sum()
                    union[c] += (a | b).sum()
        out[name + (" varied" if varied else "") + f" {tuple(held.labels.shape[1:])}"] = [round(v, 4) for v in (inter / union.clamp(min=1)).tolist()]
    return out


def examples(net, m, sets, path):
    """Held-back windows as the network saw them, above what it made of them and the truth."""
    from PIL import Image
    colours = np.array([[60, 60, 60], [0, 255, 255], [255, 0, 0], [255, 165, 0], [0, 255, 0], [255, 255, 0], [0, 0, 255], [255, 0, 255], [255, 255, 255], [0, 120, 0]], np.uint8)
    torch.manual_seed(3)
    tiles = []
    for name, _, held, _ in sets:
        if held is None:
            continue
        idx = torch.randperm(len(held), device="cuda")[:12]
        x, y = vary(*cut(net, held, idx), model.NETS[net]["ppm"], model.NETS[net]["stem"])
        with torch.no_grad():
            got = m(x * 2 - 1).argmax(1)
        s = model.NETS[net]["stem"]
        up = lambda t: colours[np.repeat(np.repeat(torch.where(t > 9, 8, t).cpu().numpy(), s, 1), s, 2)]
        p = (x.permute(0, 2, 3, 1).cpu().numpy()[..., ::-1] * 255).astype(np.uint8)
        tiles += [np.concatenate(t, 0) for t in zip(p, up(got), up(y))]
    tiles = tiles[:24]
    while len(tiles) % 4:
        tiles.append(np.zeros_like(tiles[0]))
    rows = [np.concatenate(tiles[k:k + 4], 1) for k in range(0, len(tiles), 4)]
    Image.fromarray(np.concatenate(rows, 0)).save(path, quality=85)


def main():
    a = argparse.ArgumentParser()
    a.add_argument("--net", choices=model.NETS, required=True)
    a.add_argument("--data", required=True)
    a.add_argument("--out", required=True)
    a.add_argument("--steps", type=int, default=6000)
    a.add_argument("--batch", type=int, default=48)
    a.add_argument("--rate", type=float, default=3e-3)
    a.add_argument("--seconds", type=float, default=1e9, help="stop (with the learning rate run down) after so long")
    a.add_argument("--start", help="go on from this checkpoint")
    o = a.parse_args()
    torch.manual_seed(1)
    torch.backends.cudnn.benchmark = True
    sets = sources(o.net, o.data, "cuda")
    for name, t, h, share in sets:
        print(name, len(t), "training", 0 if h is None else len(h), "held back", "share %.2f" % share, flush=True)
    m = model.build(o.net).cuda()
    if o.start:
        m.load_state_dict(torch.load(o.start, map_location="cuda"))
    print("parameters", sum(p.numel() for p in m.parameters()))
    m = m.to(memory_format=torch.channels_last)
    opt = torch.optim.AdamW(m.parameters(), lr=o.rate, weight_decay=0.02)
    weights = torch.tensor(WEIGHTS[o.net], device="cuda")
    shares = np.array([s for *_, s in sets])
    shares = shares / shares.sum()
    ave = torch.optim.swa_utils.AveragedModel(m, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(0.998), use_buffers=True)
    begin, rng, step = time.time(), np.random.default_rng(5), 0
    while True:
        done = max(step / o.steps, (time.time() - begin) / o.seconds)
        if done >= 1:
            break
        for g in opt.param_groups:
            g["lr"] = o.rate * min(1, step / 200) * max(0.5 * (1 + np.cos(np.pi * done)), 0.01)
        k = rng.choice(len(sets), p=shares)
        src = sets[k][1]
        idx = torch.randint(0, len(src), (o.batch,), device="cuda")
        with torch.no_grad():
            x, y = cut(o.net, src, idx)
            x, y = vary(x, y, model.NETS[o.net]["ppm"], model.NETS[o.net]["stem"])
            x = (x * 2 - 1).to(memory_format=torch.channels_last)
        with torch.autocast("cuda", dtype=torch.bfloat16):
            scores = m(x)
        loss = loss_of(scores.float(), y, weights)
        opt.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(m.parameters(), 1.0)
        opt.step()
        ave.update_parameters(m)
        if step % 250 == 0:
            print(step, "loss %.4f" % loss.item(), "%.0f s" % (time.time() - begin), flush=True)
        if step and step % 2000 == 0:
            print(json.dumps(judge(o.net, ave.module.eval(), sets)), flush=True)
        step += 1
    best = ave.module.eval()
    figures = {**judge(o.net, best, sets), **judge(o.net, best, sets, varied=True)}
    figures["steps"] = step
    print(json.dumps(figures, indent=1))
    os.makedirs(o.out, exist_ok=True)
    torch.save(best.state_dict(), os.path.join(o.out, o.net + ".pt"))
    json.dump(figures, open(os.path.join(o.out, o.net + ".json"), "w"), indent=1)
    examples(o.net, best, sets, os.path.join(o.out, o.net + ".jpg"))
    model.export(best, o.net, os.path.join(o.out, o.net + ".onnx"))


if __name__ == "__main__":
    main()
