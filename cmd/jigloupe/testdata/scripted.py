# The same steps as one would script them with general-purpose libraries: read a
# photo, take the card's light as reference, find the head, colour by viewing
# angle in CIELAB, bare spots, roughness; write mask and overlay.
# Prints the seconds of CPU that a photo takes. Usage: scripted.py PHOTO OUTDIR TIMES
import os, sys, time
import cv2
import numpy as np
from skimage import color, filters, measure, morphology

cv2.setNumThreads(1)


def grade(photo, out):
    bgr = cv2.imread(photo)
    rgb = bgr[:, :, ::-1].astype(np.float32) / 255
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    h, w = linear.shape[:2]

    # the card: a quadratic in x and y through what is near the median
    small = linear[::8, ::8]
    y, x = np.mgrid[0:small.shape[0], 0:small.shape[1]] * 8.0
    terms = lambda x, y: np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], -1)
    t = terms(x / w, y / w).reshape(-1, 6)
    levels = small.reshape(-1, 3)
    use = np.abs(levels[:, 1] / np.median(levels[:, 1]) - 1) < 0.3
    for _ in range(8):
        fit = np.linalg.lstsq(t[use], levels[use], rcond=None)[0]
        off = np.abs(levels / (t @ fit) - 1).max(1)
        use = off < 3 * np.median(off[use]) + 0.01
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    light = (terms(x / w, y / w).reshape(-1, 6).astype(np.float32) @ fit.astype(np.float32)).reshape(h, w, 3)
    reflectance = 0.18 * linear / light
    lab = color.xyz2lab(color.rgb2xyz(np.clip(color_encoded(reflectance), 0, 1)), "D65")

    # the head: what differs from the card, its thick part
    card = lab[(np.abs(reflectance[:, :, 1] / 0.18 - 1) < 0.05)].mean(0)
    differs = np.sqrt(((lab - card) ** 2).sum(2))
    piece = filters.gaussian(differs, 2) > filters.threshold_otsu(differs)
    piece = cv2.morphologyEx(piece.astype(np.uint8), cv2.MORPH_OPEN, morphology.disk(15))
    labels = measure.label(piece)
    head = labels == 1 + np.argmax([r.area for r in measure.regionprops(labels)])
    depth = cv2.distanceTransform(head.astype(np.uint8), cv2.DIST_L2, 5)
    radius = depth.max()
    angle = np.degrees(np.arcsin(np.clip(1 - depth / radius, 0, 1)))

    # colour by viewing angle, bare spots, roughness
    curve = [np.median(lab[head & (angle >= a) & (angle < a + 10)], 0) for a in range(0, 80, 10)]
    expected = np.stack([np.interp(angle, np.arange(5, 85, 10), [c[k] for c in curve]) for k in range(3)], -1)
    away = color.deltaE_ciede2000(expected[head], lab[head])
    bare = np.zeros(head.shape, bool)
    bare[head] = away > 25
    spots = [r for r in measure.regionprops(measure.label(bare)) if r.area > 50]
    lightness = np.where(head, lab[:, :, 0], 0)
    rough = np.std((cv2.GaussianBlur(lightness, (0, 0), 2) - cv2.GaussianBlur(lightness, (0, 0), 12))[head])

    cv2.imwrite(os.path.join(out, "mask.png"), head.astype(np.uint8) * 255)
    outlines = cv2.findContours(head.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0]
    cv2.imwrite(os.path.join(out, "overlay.jpg"), cv2.drawContours(bgr, outlines, -1, (0, 255, 255), 5))
    return curve, spots, rough


def color_encoded(linear):
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.clip(linear, 0, None) ** (1 / 2.4) - 0.055)


photo, out, times = sys.argv[1], sys.argv[2], int(sys.argv[3])
began = time.process_time()
for _ in range(times):
    grade(photo, out)
print((time.process_time() - began) / times)
