"""Every threshold of the tool in one place, with its unit and the reason for its value."""

from __future__ import annotations

# --- Reading: files, workers, cache ---

PLACES_KEPT = 5
"""Places kept for each kind of problem in a file. Enough to see a pattern; a thousand would say no more."""

EVIDENCE_BYTES = 400_000_000
"""Bytes of files of which checks keep the frames at hand. A frame takes about two bytes of memory for each of them; of
frames of 2 million vertices only the reference stays beside the one that is looked at."""

INDEX_LIMIT = 200_000
"""Folder entries looked at when a file is searched by its name alone. About a second of listing on a local disk;
a root with more is a whole library of textures, and then a near miss may go unnamed."""

MANY_CORNERS = 255
"""Corners of a face above which readers with a one-byte count overflow (format facts, section 3)."""

CHUNK_BYTES = 16_000_000
"""Bytes of frames handed to a worker at once: some 50 ms of work, so that progress and cancel come often and the
hand-over of a chunk (under a millisecond) does not show."""

SAMPLES = 9
"""Frames looked at ahead of the rest in a long sequence. Each costs a second read (the frame before it), so few; nine
show whether an export is wrong as a whole or only in its later part."""

SAMPLES_FROM = 100
"""Frames from which a sequence is long enough for samples first: below, the whole scan is as quick."""

WATCH_SURE_SECONDS = 3.0
"""Seconds that an error must stand before a watch stops an export for it: an exporter or a network disk that pauses in
the middle of a file goes on before (common practice, no source)."""

RECOGNISED_BYTES = 1 << 14
"""Bytes at the head of a file by which its format is recognised: behind a long comment the first statement is still in
them, and looking takes a tenth of a millisecond."""

# --- What a sequence is ---

STEP_RUN = 4
"""Equal differences of frame numbers in a row from which they are a step of their own, not frames that are missing."""

MOST_NEW_FRAMES = 10
"""Frames made from each frame of the source at most, when the rate changes: 24 to 240 a second. More is a slip of the
keys, and fills a disk."""

SEAM_SECONDS = 3600.0
"""Seconds between writing times from which they belong to two exports. Frames of one export come within minutes, a
queue of machines may pause for longer: hence SEAM_PAUSES too (common practice, no source)."""

SEAM_PAUSES = 10.0
"""How many times longer than every pause within an export the time between two exports is."""

LIBRARY_A_FRAME = 0.5
"""Share of frames above which distinct libraries are one a frame: an exporter's way, not the slip of a few frames."""

IMAGE_RUN = 3
"""Numbered images beside each other from which they are a series. Two may be a left and a right one."""

# --- Text and numbers ---

WASTE_BYTES = 100_000_000
"""Bytes of a sequence from which its size is worth a word: copying them takes a second or more."""

WASTE_SHARE = 0.8
"""Share of its size with which a sequence would do, from which that is worth a word."""

SINGLE_DIGITS = 9
"""Significant digits that hold any value of single precision (IEEE 754, binary32): more say nothing to an import."""

SINGLE_LARGEST = 3.4028234663852886e38
"""Largest number of single precision (IEEE 754, binary32: (2 - 2^-23) 2^127)."""

# --- Motion ---

# --- Size and axes ---

# --- Faces and edges ---

NO_AREA = 1e-6
"""Area of a face over the square of its extent up to which it has none: a strip a million times as long as wide.
Positions have six or seven digits, so that three points on a line come to about this."""

WARPED = 0.4
"""How far a face is from flat, over the root of its area, from which cutting it one way or the other shows: the halves
of a square quad then meet at 60 degrees (geometry of the square; the angle is common practice, no source)."""

BENDS_IN = 0.05
"""Share of a face's area (of its sharpest corner's, beyond four corners) by which a corner must bend in to count:
less is hardly seen when it is cut wrongly."""

EAR_CORNERS = 256
"""Corners of a face up to which one that bends in is cut exactly; the time rises with the cube of them, and a larger
face is nobody's model (common practice, no source). A larger one is cut by halving its rim, in linear time."""

FLAT_TURN = 1e-9
"""Share of a face's sharpest turn below which a turn to the right is rounding: positions have seven digits or fewer."""

TRIANGLES_AT_ONCE = 8192
"""Triangles measured at a time: their temporaries stay within a core's cache (measured best of 2048 to 65536)."""

# --- Normals ---

AGAINST_COSINE = -0.5
"""Cosine between a face and the normals at two of its corners, the first and one half round the face, below which both
must be for the face to be against its normals: 120 degrees. Smoothed normals in sharp folds reach somewhat beyond 90;
mistaken ones lie near 180 (common practice, no source)."""

TURNED_SHARE = 0.9
"""Share of a frame's faces with normals to their back from which the normals as a whole are turned round: in folds,
smoothed normals look as if they were right. Below it, turning them all would spoil the good ones."""

NORMAL_LENGTH = 0.01
"""Difference of a normal's length from 1 that counts. Rounding to two decimals makes up to 0.0087, the root of three
times half a hundredth."""

NORMAL_LENGTH_OFF = 0.2
"""How far a decoded normal's length may be from 1. Eight bits a channel miss it by 0.01, strong compression and
filtering by about 0.1; a colour picture misses it by 0.3 and more (common practice, no source)."""

NORMAL_LEAN = 0.4
"""Mean of a normal map's two sideward parts below which, and of its outward part above which, it faces outward on the
whole. Pale sand leans by 0.5 and a blue sky by 0.6, though their colours are unit vectors (common practice, no
source)."""

NORMAL_SHARE = 0.25
"""Share of a normal map's pixels that may be off in length before it counts as none: some leave the unused space
between islands black or white."""

NORMAL_LOOKS_SHARE = 0.05
"""Share of pixels, those of the commonest colour left out, that may be off in length or face inward in a picture that
is held for a normal map by its looks alone: stricter than NORMAL_SHARE, for here the file doesn't say so."""

NORMAL_ALONG_GREY = 0.8
"""Mean part along the direction from black to white from which colours of length 1 are pale and dark greys, and no
normals: those of a sphere have 0.5, those of a flat surface 0.58."""

MIRRORED_SHARE = 0.01
"""Share of a material's area, in the texture, that must lie mirrored, and that must not, to be worth a word."""

NORMALS_OF_FACES = 1.0
"""Degrees by which a frame's normals may differ from those worked out from its faces to be taken as worked out so. Four
decimals round by 0.005; a step of light of less than a degree is not seen (common practice, no source)."""

# --- UVs ---

UV_DIFFERENCE = 1e-4
"""Difference of a UV coordinate (the unit square has side 1) from which two UVs count as different. Half a pixel on a
map of 4096 pixels is 1.2e-4; rounding to four decimals or more stays below."""

USE_CELLS = 512
"""Samples along a side of the texture for the share that is used: a hundredth of it is seen to a few percent."""

UV_TILES = 64
"""Unit squares that UVs may lie over for the share used to be measured; beyond, the texture is a repeated pattern."""

UV_TILE_NUMBERS = (1001, 1999)
"""Numbers that images of UV tiles carry: 1001 for the unit square, one more a tile in u, ten more a tile in v (common
practice, no source)."""

OVERLAP_NOISE = 0.01
"""Share of overlap that sampling at USE_CELLS can feign."""

OVERLAP_CELLS = 256
"""Cells along each side of the box of all UVs on which overlap is counted: shares to a hundredth, in a few milliseconds
for 90,000 faces."""

OVERLAP_PAIRS = 1 << 21
"""Pairs of a face and a cell that are looked at for islands on each other, with 0.2 GB: 32 faces on each cell of the
finest grid. A wall of bricks of which each shows the whole texture gets a coarser one."""

OVERLAP_SHARE = 0.01
"""Share of the used texture that must lie twice on the surface to be worth a word: less is a seam or a corner, and
nobody letters there."""

STACKED_SHARE = 0.9
"""Share of an island that lies on others from which it was laid there on purpose, as mirrored halves and repeated parts
are; islands that were packed carelessly meet at their rims (common practice, no source)."""

REPEAT_SPAN = 1.5
"""Extent of the UVs, in widths of the texture, from which a texture is repeated on purpose; layouts that stick out of
the square by mistake are about as large as it (common practice, no source)."""

SWIM_SMOOTH = 0.0
"""Correlation of the UVs' ways over two steps in a row below which they tremble. A drift keeps its direction (about 1);
noise comes back from where it went (-0.5, for differences of independent values with equal variance)."""

DONOR_DISTANCE = 0.05
"""Share of the reference's diagonal by which its vertices may lie off a donor's surface for UVs to be taken over by the
closest point. Further off it is another pose, place or size, and the closest point is chance."""

# --- Images and materials ---

IMAGE_PIXELS = 1 << 26
"""Pixels up to which a texture is decoded: 8192 x 8192, the largest in common use; at 4 bytes a pixel 270 MB, well
within the budget of 1.5 GB. Of larger ones the header alone is read, and that is said."""

IMAGES_PIXELS = 1 << 28
"""Pixels decoded in one run, over all textures: sixteen maps of 4096 x 4096, some 10 s of work. Beyond it headers alone
are read, and that is said."""

IMAGE_SAMPLES = 512
"""Pixels along the longer side of the sample on which an image's colours are judged: shares to a hundredth, in a few
milliseconds."""

IMAGE_SIDE = 16384
"""Pixels along a side from which graphics hardware no longer takes a texture whole (common practice, no source)."""

MAP_SQUEEZE = 1.1
"""Aspect of a map against the wanted one from which it is called squeezed: a circle is seen to be none from about a
tenth (common practice, no source)."""

MAP_SQUEEZED = 1.5
"""Aspect of a map against the one that the surface wants from which it is noted without being asked for. UVs are
stretched a little everywhere, and painting on the surface evens it out (common practice, no source)."""

MAP_ASPECTS = 1.02
"""Ratio of the aspects of two maps of one material from which they differ by more than a rounded pixel."""

MAP_TOO_SMALL = 1.5
"""Factor by which a picture may enlarge a map's pixels before they show as blur (common practice, no source)."""

MAP_TOO_BIG = 4.0
"""Factor along a line by which a map may be finer than wanted: two halvings too many, sixteen times the memory."""

OPACITY_DIFFERENCE = 0.01
"""How far `d` and `1 - Tr` may differ, of 1: more than two decimals round to, less than is seen."""

# --- Texture fit and lettering ---

FIT_SAMPLES = 4096
"""Faces of a material by which a check judges how a texture lies on it: shares to about a hundredth, in a few
milliseconds."""

ASPECT_SPREAD = 3.0
"""Ratio of the aspects that 95 % and 5 % of a surface want from which no one aspect is wanted: the layout is stretched
here and there in different ways."""

ISLAND_SHARE = 0.01
"""Share of a material's area in the texture from which a UV island is reported on its own; nobody letters less."""

ISLANDS_KEPT = 16
"""UV islands of a material that are reported on their own, the largest ones."""

UPRIGHT_DEGREES = 15.0
"""Turn up to which lettering still counts as upright. Beyond it, it looks tilted on purpose (common practice, no
source)."""

DIRECTION_SPREAD = 0.5
"""Spread of lettering's direction over a surface beyond which one angle says nothing: half the surface reads across."""

FLAT_TILT = 0.5
"""Mean sine of the angle between surface and scene's up below which the surface lies flat: within 30 degrees of it, up
on the surface turns about with every wave of it."""

LOOKS_AWAY = 0.05
"""Share of a surface's area that must be left when its two sides are set against each other for it to look to one of
them. Of a closed surface nothing is left but rounding."""

LETTER_STRETCH = 1.25
"""Factor by which a letter may grow or shrink in any direction within the safe rectangle. A quarter is seen side
by side, and not yet as another typeface (common practice, no source)."""

LETTER_SAMPLES = (16, 48)
"""Rows and columns of samples over a rectangle of lettering: shares are told to better than a hundredth."""

LETTER_ADVANCE = 0.85
"""Mean width of a letter with its spacing over a capital's height: about 0.6 em over 0.7 em in upright faces without
serifs (common practice, no source)."""

SAFE_CELLS = 256
"""Cells each way over a UV island in the search for the safe rectangle: ends are found to 0.4 % of the island."""

READ_SEEN = 0.9
"""Share of a caption that must be seen: of ten letters one may be missing (common practice, no source)."""

READ_COSINE = 0.5
"""Mean cosine between surface and line of sight from which lettering is read: letters at half their width, 60 degrees
aside (common practice, no source)."""

READ_PIXELS = 12.0
"""Height of a capital in the picture, pixels, from which it is read in motion (common practice, no source)."""

READ_TURN = 45.0
"""Degrees that lines may be turned against the picture's horizontal: beyond, they are closer to upright columns."""

CELL_RIM = 1e-9
"""Share of a grid cell that a triangle must reach into to touch it, and by which it may miss a centre that lies on its
side: far above rounding, far below what is seen."""

CELLS_TRIED = 1 << 19
"""Cells tried against triangles at a time. Keeps temporaries at some tens of megabytes."""

CELLS_AT_MOST = 1 << 26
"""Cells tried against all triangles of one grid, about 3 s; a surface that covers its texture ten times needs a tenth.
Beyond, the grid is coarser: only faces by the thousand that each lie over the whole texture come so far."""

PAIRS_TRIED = 1 << 13
"""Pairs of a point and a triangle tried at a time before points are halved. Halving costs about as much as so many."""

RAY_RIM = 1e-9
"""Share of a triangle's side by which a ray may pass beside it and still meet it, so that none slips between two."""

RAY_START = 1e-6
"""Share of the way from a point to the eye within which the surface doesn't hide the point: it is the point's own.
Positions are written with six or seven digits."""

# --- Pictures, viewer, page ---

DRAWN_PIXELS = 1 << 23
"""Pixels that are drawn at a time: 1920 x 1080 at twice the size. At about 80 bytes a pixel 0.7 GB, within the budget
of 1.5."""

FRAGMENTS = 1 << 28
"""Pixels of all faces of one picture, seen or not, about 10 s: 32 layers over the whole of DRAWN_PIXELS. Beyond, it is
drawn in blocks of several pixels and says so: only large faces by the thousand on each other come so far."""

PICTURES_PIXELS = 1 << 27
"""Pixels of all pictures that go into one file, which stand in memory together: 0.4 GB, and as much again in the
encoder. 580 pictures of 640 x 360."""

BLEED_SHARE = 1.0 / 128.0
"""Bleed over the longer side of a texture: 8 pixels of 1024, of which one is left after the texture was halved three
times (common practice, no source)."""

PAGE_PICTURES = 120
"""Pictures in a report: at about 20 KB each two to three megabytes, which a mail still takes."""

PAGE_SHEET = 12
"""Pictures of one sequence in a report: four rows of three, which are seen at a glance."""

PAGE_FRAMES = 240
"""Frames of all sequences on which a report measures texture and lettering, spread evenly where there are more: ten
seconds of motion whole, at 10 ms a frame of 600 faces."""

PAGE_FACES = 1 << 21
"""Faces over these frames: two million take some fifteen seconds."""
