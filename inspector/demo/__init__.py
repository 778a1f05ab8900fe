"""The demo data: a swimming manta ray without defects, the same with a defect in most frames, a defective kelp frond,
and a buoy for lettering.

The scenario is the title sequence of a harbour aquarium: a manta ray swims past, a kelp frond sways, a mooring buoy
bobs. Everything is computed, so that an installed package can write it anywhere and a test can compare it with
fixtures/.
"""

from __future__ import annotations

from inspector.demo.folders import demo_files, write_demo

__all__ = ["demo_files", "write_demo"]
