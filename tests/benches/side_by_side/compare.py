"""General-purpose pitch estimators and reedcrow on the same synthetic takes.

Run by scripts/side-by-side FOLDER, which has had the takes written there. Each estimator gives a
track over the whole take; its value for a take is the median of the track over the steady part
(50 ms inside the tone's ends), as for reedcrow, whose value is the reading's fundamental and whose
track is not printed in its JSON. Same columns for all:

* low octave: share of takes whose value lies within 50 cents of the lowest tone made;
* upper instead: within 50 cents of twice that; other: elsewhere; none: no value;
* RMS cents: of the values that are right;
* for the realistic crow also, per point of the track: RMS against the drifting truth, gross points
  (over 50 cents), gaps, and points with a pitch where there is only breath.
"""

import collections
import json
import pathlib
import subprocess
import sys

import librosa
import numpy as np
import parselmouth
import soundfile

LOW_HZ, HIGH_HZ, FRAME, HOP = 100.0, 2000.0, 2880, 480
EDGE_S = 0.1


def yin(samples, rate):
    hz = librosa.yin(samples, fmin=LOW_HZ, fmax=HIGH_HZ, sr=rate, frame_length=FRAME, hop_length=HOP)
    return np.arange(len(hz)) * HOP / rate, hz


def pyin(samples, rate):
    hz, voiced, _ = librosa.pyin(
        samples, fmin=LOW_HZ, fmax=HIGH_HZ, sr=rate, frame_length=FRAME, hop_length=HOP
    )
    return np.arange(len(hz)) * HOP / rate, np.where(voiced, hz, np.nan)


def autocorrelation(samples, rate):
    sound = parselmouth.Sound(samples.astype(np.float64), rate)
    pitch = sound.to_pitch_ac(time_step=HOP / rate, pitch_floor=LOW_HZ, pitch_ceiling=HIGH_HZ)
    hz = pitch.selected_array["frequency"]
    return pitch.xs(), np.where(hz > 0, hz, np.nan)


def aubio(path):
    """The command of Debian's aubio-tools, where it is installed."""
    command = ["aubiopitch", "-p", "yinfft", "-B", "2048", "-H", str(HOP), "-i", str(path)]
    try:
        lines = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    except (OSError, subprocess.CalledProcessError):
        return None
    rows = [line.split() for line in lines.splitlines()]
    times, hz = np.array([[float(t), float(f)] for t, f in rows]).T
    return times, np.where(hz > 0, hz, np.nan)


def cents(hz, reference):
    return 1200 * np.log2(hz / reference)


def steady_value(track, crow):
    times, hz = track
    inside = (times >= crow["tone_start_s"] + 0.05) & (times <= crow["tone_end_s"] - 0.05)
    values = hz[inside & np.isfinite(hz)]
    return float(np.median(values)) if len(values) else None


def points(track, crow):
    """Errors, gross, gaps and pitches in breath of one track of a realistic crow."""
    times, hz = track
    start, end = crow["tone_start_s"], crow["tone_end_s"]
    entry = crow["start_s"] + crow["rungs"][0]["entry_s"]
    truth = crow["fundamental_hz"] * 2 ** (
        crow["drift_cents_per_s"] * (times - (start + end) / 2) / 1200
    )
    judged = (times >= entry + EDGE_S) & (times < end - EDGE_S)
    off = cents(hz, truth)[judged]
    known = off[np.isfinite(off)]
    gross = np.abs(known) > 50
    breath = ((times >= crow["start_s"]) & (times < start)) | ((times > end) & (times <= crow["end_s"]))
    return known[~gross], gross.sum(), np.isnan(off).sum(), np.isfinite(hz[breath]).sum()


def reedcrow_values(program, paths):
    """The reading's fundamental for each take: of the crow that overlaps the tone most."""
    out = subprocess.run(
        [program, "analyse", "--json", *map(str, paths)], capture_output=True, text=True
    ).stdout
    return [json.loads(line) for line in out.splitlines()]


def reedcrow_value(reading, crow):
    def overlap(heard):
        return min(heard["end_s"], crow["tone_end_s"]) - max(heard["start_s"], crow["tone_start_s"])

    heard = [c for c in reading["crows"] if c["kind"] != "breath" and overlap(c) > 0]
    return max(heard, key=overlap)["fundamental"]["hz"] if heard else None


def rms(values):
    return f"{np.sqrt(np.mean(np.square(values))):.3g}" if len(values) else "–"


def row(name, values, lows):
    off = [None if v is None else cents(v, low) for v, low in zip(values, lows)]
    right = [o for o in off if o is not None and abs(o) <= 50]
    upper = sum(o is not None and abs(o - 1200) <= 50 for o in off)
    none = sum(o is None for o in off)
    share = lambda count: f"{100 * count / len(off):.0f} %"
    other = len(off) - len(right) - upper - none
    return f"| {name} | {share(len(right))} | {share(upper)} | {share(other)} | {share(none)} | {rms(right)} |"


def main():
    folder, program = pathlib.Path(sys.argv[1]), sys.argv[2]
    classes = collections.defaultdict(list)
    for path in sorted(folder.glob("*.wav")):
        classes[path.stem.rpartition("-")[0]].append(path)
    for name, paths in classes.items():
        truths = [json.loads(p.with_suffix(".truth.json").read_text())["crows"][0] for p in paths]
        # A rung's index tells how many octaves it stands over the lowest tone made.
        lows = [t["rungs"][0]["hz"] / 2 ** t["rungs"][0]["rung"] for t in truths]
        tracks = collections.defaultdict(list)
        for path in paths:
            samples, rate = soundfile.read(path, dtype="float32")
            tracks["librosa yin"].append(yin(samples, rate))
            tracks["librosa pyin"].append(pyin(samples, rate))
            tracks["parselmouth autocorrelation"].append(autocorrelation(samples, rate))
            tracks["aubio yinfft 2048"].append(aubio(path))
        print(f"### {name}, {len(paths)} takes\n")
        print("| estimator | low octave | upper instead | other | none | RMS cents |")
        print("| --- | --- | --- | --- | --- | --- |")
        readings = reedcrow_values(program, paths)
        print(row("reedcrow", [reedcrow_value(r, t) for r, t in zip(readings, truths)], lows))
        tracks = {n: t for n, t in tracks.items() if all(track is not None for track in t)}
        for estimator, found in tracks.items():
            values = [steady_value(track, truth) for track, truth in zip(found, truths)]
            print(row(estimator, values, lows))
        if name == "realistic":
            print("\n| estimator | track RMS cents | gross | gaps | pitch in breath |")
            print("| --- | --- | --- | --- | --- |")
            for estimator, found in tracks.items():
                each = [points(track, truth) for track, truth in zip(found, truths)]
                errors = np.concatenate([e[0] for e in each])
                gross, gaps, breath = (sum(int(e[i]) for e in each) for i in (1, 2, 3))
                print(f"| {estimator} | {rms(errors)} | {gross} | {gaps} | {breath} |")
        print()


main()
