"""Draws docs/class-exercise.png from the demonstration captures.

Run in the project's top folder: python3 docs/draw-class-exercise.py
"""
import csv
import matplotlib
matplotlib.use("Agg")
import matplotlib.pyplot as plt

FROM, TO = 1.95, 2.50


def columns(name):
    with open(f"demo-data/{name}.csv", newline="") as file:
        rows = list(csv.reader(file))
    table = [[float(cell) for cell in row] for row in rows[1:]]
    kept = [row for row in table if FROM <= row[0] <= TO]
    return rows[0], list(zip(*kept))


figure, panels = plt.subplots(2, 1, figsize=(9, 6.4), sharex=True)
for panel, name, title in zip(panels, ("sound", "bank2-late"), ("A: sound", "B: what is different?")):
    headers, data = columns(name)
    time = data[0]
    for place, (header, values) in enumerate(zip(headers[1:5], data[1:5])):
        low, high = min(values), max(values)
        scaled = [3 - place + 0.8 * (value - low) / (high - low) for value in values]
        panel.plot(time, scaled, linewidth=0.7, color=("#222222", "#b03030", "#2050a0", "#207040")[place])
    panel.set_yticks([3.4 - place for place in range(4)], headers[1:5])
    panel.set_title(title, loc="left", fontsize=10)
panels[1].set_xlabel("seconds")
figure.tight_layout()
figure.savefig("docs/class-exercise.png", dpi=90)
