#!/usr/bin/python3
"""Figures of FITS frames with numpy, one JSON document.   usage: expected.py CFA FRAME...     CFA: RGGB, …, or none"""
import json, sys
import numpy as np
from astropy.io import fits

cfa, paths = sys.argv[1], sys.argv[2:]
found = []
for path in paths:
    with fits.open(path) as hdus:
        a = next(h.data for h in hdus if h.data is not None and h.is_image).astype(np.float64)
    good = a[np.isfinite(a)]
    if cfa == 'none':
        d = (a[:, 1::2] - a[:, :-1:2][:, :a[:, 1::2].shape[1]]).ravel()
        channels = None
    else:
        at = cfa.index('G')
        green = a[at // 2::2, at % 2::2]
        d = (green[:, 1:] - green[:, :-1]).ravel()
        planes = {c: np.concatenate([a[i // 2::2, i % 2::2].ravel() for i in range(4) if cfa[i] == c]) for c in 'RGB'}
        channels = {c: {'median': float(np.median(p)), 'mean': float(p.mean())} for c, p in planes.items()}
    d = d[np.isfinite(d)]
    found.append({
        'median': float(np.median(good)), 'mean': float(good.mean()), 'sd': float(good.std()), 'min': float(good.min()),
        'max': float(good.max()), 'clippedLow': int((a == 0).sum()), 'clippedHigh': int((a == 65535).sum()),
        'noise': float(1.482602218505602 * np.median(np.abs(d - np.median(d))) / np.sqrt(2)), 'channels': channels})
print(json.dumps(found))
