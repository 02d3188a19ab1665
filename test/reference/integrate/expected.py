#!/usr/bin/python3
"""Integrates FITS frames with numpy and astropy.stats, whole frames, in float64, and writes float32.

usage: expected.py ASK OUT.raw FRAME...     ASK: JSON {"methods": [as main/integrate/method.ts has them], "flat": {"dark": FILE or null} or null}
The masters of all methods stand in OUT one after another.
"""
import json, sys, warnings
import numpy as np
from astropy.io import fits
from astropy.stats import sigma_clip

ask, out, paths = json.loads(sys.argv[1]), sys.argv[2], sys.argv[3:]
warnings.simplefilter('ignore')


def pixels(path):
    with fits.open(path) as hdus:
        return next(h.data for h in hdus if h.data is not None and h.is_image).astype(np.float64)


cube = np.stack([pixels(p) for p in paths])
if ask.get('flat'):
    if ask['flat']['dark']:
        cube = cube - pixels(ask['flat']['dark'])
    means = np.nanmean(cube, axis=(1, 2))
    cube = cube * (means.mean() / means)[:, None, None]


def integrate(method):
    name = method['name']
    if name == 'mean':
        return np.nanmean(cube, axis=0)
    if name == 'median':
        return np.nanmedian(cube, axis=0)
    if name == 'minMax':
        return np.sort(cube, axis=0)[method['low']:len(paths) - method['high']].mean(axis=0)
    stdfunc = 'std' if name == 'sigmaClip' else 'mad_std'
    return sigma_clip(cube, sigma_lower=method['low'], sigma_upper=method['high'], maxiters=method['rounds'], axis=0,
                      cenfunc='median', stdfunc=stdfunc).mean(axis=0)


with open(out, 'wb') as file:
    for method in ask['methods']:
        np.ma.filled(integrate(method), np.nan).astype('<f4').tofile(file)
