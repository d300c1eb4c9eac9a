"""The two networks: U-Nets (Ronneberger, Fischer, Brox 2015, arXiv:1505.04597) small enough for one processor core.

Only convolutions, ReLU, max pooling, concatenation and linear resizing: what OpenCV 4.6 runs soundly. Batch
normalisation is folded into the convolutions before export.
"""
import torch
import torch.nn as nn

# 0 ground, 1 scale reference, 2 insulation, 3 bare conductor, 4 sleeve, 5 brush, 6 neck and body, 7 strays, 8 strands seen
# through the sleeve, 9 sleeve of a part that lies on its side
CLASSES = 10

# px per mm at which each network looks, the size of its window (columns, rows; the coarse one takes any multiple of 32)
# and how much smaller its answer is than its input.
NETS = {
    "coarse": dict(ppm=4, window=(224, 224), stem=2, widths=(16, 24, 40, 64, 80)),
    "fine": dict(ppm=16, window=(384, 192), stem=1, widths=(16, 32, 48, 80, 112)),
}


def block(i, o):
    return nn.Sequential(
        nn.Conv2d(i, o, 3, padding=1, bias=False), nn.BatchNorm2d(o), nn.ReLU(inplace=True),
        nn.Conv2d(o, o, 3, padding=1, bias=False), nn.BatchNorm2d(o), nn.ReLU(inplace=True))


class UNet(nn.Module):
    def __init__(self, widths, stem):
        super().__init__()
        first = widths[0]
        self.stem = nn.Identity()
        inputs = 3
        if stem == 2:
            self.stem = nn.Sequential(nn.Conv2d(3, first, 4, stride=2, padding=1, bias=False), nn.BatchNorm2d(first), nn.ReLU(inplace=True))
            inputs = first
        self.down = nn.ModuleList()
        for w in widths:
            self.down.append(block(inputs, w))
            inputs = w
        self.up = nn.ModuleList(block(widths[k + 1] + widths[k], widths[k]) for k in range(len(widths) - 1))
        self.pool = nn.MaxPool2d(2)
        self.grow = nn.Upsample(scale_factor=2, mode="bilinear", align_corners=False)
        self.head = nn.Conv2d(first, CLASSES, 1)

    def forward(self, x):
        x = self.stem(x)
        kept = []
        for k, d in enumerate(self.down):
            x = d(x if k == 0 else self.pool(x))
            kept.append(x)
        for k in range(len(self.up) - 1, -1, -1):
            x = self.up[k](torch.cat([self.grow(x), kept[k]], 1))
        return self.head(x)


def build(name):
    n = NETS[name]
    return UNet(n["widths"], n["stem"])


def folded(model):
    """A copy with batch normalisation folded into the convolutions, for export."""
    import copy
    model = copy.deepcopy(model).eval().float().cpu()
    for m in model.modules():
        if isinstance(m, nn.Sequential):
            for k in range(len(m) - 1):
                if isinstance(m[k], nn.Conv2d) and isinstance(m[k + 1], nn.BatchNorm2d):
                    m[k] = nn.utils.fusion.fuse_conv_bn_eval(m[k], m[k + 1])
                    m[k + 1] = nn.Identity()
    return model


def export(model, name, path):
    """Write PATH (ONNX, opset 11, 32-bit floats: OpenCV 4.6 refuses 16-bit ones) and PATH.gz with weights rounded to 12
    bits of their fractions, which is what the program carries."""
    import gzip
    import numpy as np
    import onnx
    from onnx import numpy_helper
    w, h = NETS[name]["window"]
    free = {"picture": {2: "h", 3: "w"}, "scores": {2: "h", 3: "w"}} if name == "coarse" else None
    torch.onnx.export(folded(model), torch.zeros(1, 3, h, w), path, opset_version=11, dynamo=False,
                      input_names=["picture"], output_names=["scores"], dynamic_axes=free)
    m = onnx.load(path)
    for t in m.graph.initializer:
        if t.data_type == onnx.TensorProto.FLOAT:
            bits = numpy_helper.to_array(t).view(np.uint32).astype(np.uint64)
            rounded = ((bits + 0x800) & 0xFFFFF000).astype(np.uint32).view(np.float32)
            t.CopyFrom(numpy_helper.from_array(rounded, t.name))
    with open(path + ".gz", "wb") as f:
        f.write(gzip.compress(m.SerializeToString(), 9, mtime=0))
