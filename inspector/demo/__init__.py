"""The demo data of the tool, drawn by rule: a healthy swim, the same swim with one defect a frame, a broken kelp.

The scenario is a harbour aquarium's title sequence: a manta ray swims past, a kelp frond sways. Everything is
computed, so that an installed package can write it anywhere and a test can compare it with fixtures/.
"""

from __future__ import annotations

from inspector.demo.write import demo_files, write_demo

__all__ = ["demo_files", "write_demo"]
