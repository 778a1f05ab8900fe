"""What --help shows of each command in use, on the demo data (meshqc demo harbour)."""

from __future__ import annotations

EXAMPLES = {
    "open": (
        "meshqc demo harbour",
        "meshqc harbour/manta_broken",
        "meshqc check harbour --frames 1-24",
        "meshqc fix harbour/kelp_broken --output harbour_kelp --all --dry-run",
        'meshqc fit harbour/manta --caption "HARBOUR AQUARIUM"',
        "meshqc picture harbour/manta --sheet 12 --output proof.png",
    ),
    "check": (
        "meshqc check harbour/kelp_broken --frames 1-15 --size 1.8",
        "meshqc rules --from harbour/manta > manta.toml",
        "meshqc check harbour --format junit --fail-on warning > verdict.xml",
        "meshqc check harbour/manta --format csv > manta.csv",
        "meshqc check harbour/manta_broken --report manta_broken.html",
        "meshqc check harbour/manta_broken --rules manta.toml",
    ),
    "merge": (
        "meshqc check harbour/manta --part 1/2 > part1.json",
        "meshqc check harbour/manta --part 2/2 > part2.json",
        "meshqc merge harbour/manta part1.json part2.json --json",
    ),
    "watch": (
        "meshqc watch harbour/manta --until 24 --stop-on-error",
        "meshqc watch harbour/manta --quiet-for 60 --fail-on warning",
    ),
    "fix": (
        "meshqc fix harbour/kelp_broken --output harbour_kelp",
        "meshqc fix harbour/kelp_broken --all --dry-run --save kelp.json",
        "meshqc fix harbour/kelp_broken --output harbour_planned --plan kelp.json",
        "meshqc fix harbour/manta --output harbour_half --only scale:factor=0.5",
        "meshqc fix harbour/manta --output harbour_scene --as usd --unit m --fps 25",
    ),
    "compare": (
        "meshqc compare harbour/manta --frame 7 --against 1",
        "meshqc fix harbour/kelp_broken --output harbour_kelp",
        "meshqc compare harbour/kelp_broken --corrected harbour_kelp",
    ),
    "verify": ("meshqc fix harbour/kelp_broken --output harbour_kelp", "meshqc verify harbour_kelp"),
    "unpack": (
        "meshqc fix harbour/manta --output harbour_scene --as usd --unit m --fps 25",
        "meshqc unpack harbour_scene/manta.usdc",
        "meshqc unpack harbour_scene/manta.usdc manta_frames --step 2 --unit cm",
        "meshqc fix harbour/manta --output harbour_archive --as abc --fps 25",
        "meshqc unpack harbour_archive/manta.abc manta_again --size 2.5",
    ),
    "fit": ('meshqc fit harbour/manta --caption "HARBOUR AQUARIUM"',),
    "template": ("meshqc template harbour/manta --output manta_template.png --output manta_template.svg",),
    "picture": (
        "meshqc picture harbour/manta --output frame.png",
        "meshqc picture harbour/manta --animate --fps 25 --output moving.png",
    ),
    "rules": (
        "meshqc rules > meshqc.toml",
        "meshqc rules --from harbour/manta > meshqc.toml",
    ),
    "demo": ("meshqc demo harbour",),
    "checks": ("meshqc checks",),
    "explain": ("meshqc explain uv-mismatch", "meshqc explain scale"),
}
"""Command ("open": the keyboard face) -> command lines."""
