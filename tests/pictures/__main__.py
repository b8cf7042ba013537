"""Draw the images anew that pictures are compared with."""

from __future__ import annotations

from tests.pictures import FOLDER, PICTURES, drawn, save_ink

for old in FOLDER.glob("*.png"):
    old.unlink()
for name in PICTURES:
    save_ink(drawn(name, laid_out=False), FOLDER / f"{name}.png")
print(f"{len(PICTURES)} images in {FOLDER}; look at each before it is kept")
