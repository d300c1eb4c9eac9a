"""Scores of the exported networks by another engine (ONNX Runtime), for the test that holds OpenCV's against them.

    python3 reference.py --nets DIR > reference.json

The input is a pattern of whole numbers that the test makes in the same way: pixel (i, j) of plane c has the brightness
(3 i² + 5 j² + 7 i j + 11 c) mod 251 over runs of 8 px, so that it has edges and flat places.
"""
import argparse
import json
import os

import numpy as np
import onnxruntime

SIZES = {"coarse": (256, 192), "fine": (384, 192)}


def pattern(w, h):
    j, i = np.meshgrid(np.arange(h) // 8, np.arange(w) // 8, indexing="ij")
    return np.stack([((3 * i * i + 5 * j * j + 7 * i * j + 11 * c) % 251) for c in range(3)])[None].astype(np.float32)


def main():
    a = argparse.ArgumentParser()
    a.add_argument("--nets", required=True)
    folder = a.parse_args().nets
    out = {}
    for name, (w, h) in SIZES.items():
        session = onnxruntime.InferenceSession(os.path.join(folder, name + ".onnx"), providers=["CPUExecutionProvider"])
        scores = session.run(None, {"picture": pattern(w, h) / 127.5 - 1})[0][0]
        places = [(int(x), int(y)) for x in np.linspace(3, scores.shape[2] - 4, 7) for y in np.linspace(3, scores.shape[1] - 4, 5)]
        out[name] = {"width": w, "height": h, "engine": "ONNX Runtime " + onnxruntime.__version__,
                     "scores": [{"x": x, "y": y, "of_class": [round(float(v), 4) for v in scores[:, y, x]]} for x, y in places]}
    print(json.dumps(out))


if __name__ == "__main__":
    main()
