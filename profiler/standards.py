"""Published constants with unit, source and mark, then our own tuning numbers with their reason."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Constant:
    """A published number: its value, unit and where it was read."""

    value: float
    unit: str
    source: str

    def __float__(self) -> float:
        return self.value


# --- ISO 12232, digital camera speed -------------------------------------------------

Q_FACTOR = Constant(
    value=0.65,
    unit="lx s per (cd/m2 s), at f/1",
    source="ISO 12232:2006 via colour-hdri q_factor: (pi/4) 0.90 0.98 cos^4(10 deg) = 0.651575, "
    "rounded by the standard to 65/100",
)
SATURATION_SPEED_LX_S = Constant(
    value=78.0, unit="lx s", source="ISO 12232:2006 S_sat = 78/H_sat, via colour-hdri"
)
EXPOSURE_INDEX_LX_S = Constant(
    value=10.0, unit="lx s", source="ISO 12232:2006 I_EI = 10/H_a, via colour-hdri"
)
GREY_REFLECTANCE = Constant(
    value=0.18, unit="1", source="ISO 12232:2006: 78 = 10 sqrt(2)/0.18 cut short, via colour-hdri"
)
LENS_TRANSMITTANCE = Constant(
    value=0.90, unit="1", source="ISO 12232:2006, inside its q factor, via colour-hdri q_factor"
)

AIM_ISO12232_STOPS = math.log2(SATURATION_SPEED_LX_S.value / EXPOSURE_INDEX_LX_S.value)
"""2.963 stops from the standard's mean exposure 10/S up to saturation 78/S (derived)."""
AIM_WHITE_AT_CLIP_STOPS = -math.log2(GREY_REFLECTANCE.value)
"""2.474 stops from an 18 % grey up to a perfect white that just clips (derived)."""

# --- ISO 2720, meters ------------------------------------------------------------------

METER_K = Constant(
    value=12.5,
    unit="cd/m2",
    source="trade value inside ISO 2720:1974's 10.6 to 13.4, via colour-hdri average_luminance",
)
METER_C_FLAT = Constant(
    value=250.0,
    unit="lx",
    source="trade value inside ISO 2720:1974's 240 to 400 (flat), via colour-hdri",
)
METER_C_DOME = Constant(
    value=340.0,
    unit="lx",
    source="trade value inside ISO 2720:1974's 320 to 540 (hemispherical), via colour-hdri",
)
METER_RANGES = {
    "spot": ("K", (10.6, 13.4)),
    "flat": ("C", (240.0, 400.0)),
    "dome": ("C", (320.0, 540.0)),
}
"""Constants that ISO 2720:1974 leaves to the maker, by receptor: K in cd/m2, C in lx (via
colour-hdri)."""
# --- APEX ------------------------------------------------------------------------------

EXIF_SPEED_N = Constant(
    value=1.0 / 3.125,
    unit="1",
    source="Exif 2.x annex C, S_v = log2(S/3.125), from memory; S_v(100) = 5",
)
ASA_SPEED_N = Constant(
    value=2.0**-1.75,
    unit="1",
    source="ASA PH2.5-1960, S_v = log2(N S) with N = 2^(-7/4), from memory; S_v(100) = 4.894",
)
ASA_BRIGHTNESS_ZERO_CD_M2 = Constant(
    value=11.4 * 2.0**-1.75, unit="cd/m2", source="ASA PH2.12-1961, N K with K = 11.4, from memory"
)

# --- units -----------------------------------------------------------------------------

LX_PER_FC = Constant(value=1.0 / 0.3048**2, unit="lx/fc", source="the exact foot, 0.3048 m")
CD_M2_PER_FL = Constant(
    value=1.0 / (math.pi * 0.3048**2), unit="(cd/m2)/fL", source="the exact foot, 0.3048 m"
)
CD_M2_PER_ASB = Constant(
    value=1.0 / math.pi, unit="(cd/m2)/asb", source="definition of the apostilb"
)
M_PER_FT = Constant(value=0.3048, unit="m/ft", source="the exact foot, 0.3048 m")

# --- our own tuning numbers, with the reason ---------------------------------------------

SHUTTER_SCATTER_EV = 0.05
"""Prior standard deviation of a frame's own exposure error (common practice, no source)."""
SCATTER_PRIOR_DOF = 1.0
"""Weight of that prior, in frames: enough to steady three frames, forgotten by ten."""
SCATTER_SHARED_DOF = 6.0
"""Degrees of freedom at most that other ISO labels lend to a label's scatter: enough for a short
label, too few to hide that one label scatters more than the others."""
METER_REPEATABILITY_EV = 0.1
"""Limits +-0.1 EV of a handheld meter's repeatability (common practice, no source)."""
DISPLAY_STEP_EV = 0.1
"""Step of a meter's display where no reading tells it yet: tenths (common practice, no source)."""
COARSE_STEP_EV = 0.5
"""From this step on a reading may lack figures that the display had: EV 12 for EV 12.0."""

LINE_LOW_FRACTION = 0.005
"""The line starts at this part of the clip span: below it flare and black errors rule."""
LINE_HIGH_FRACTION = 0.90
"""... and ends here, so that the tail of a noisy patch never touches clip."""
TRUST_FRACTION = 0.60
"""Below this part of the span no sensor is expected to bend; the bend test starts above it."""
BEND_FRACTION = 0.02
"""The linear limit is where the response has left the line by this part."""

TIME_RULE_LOG_ODDS = 3.0
"""Log odds, before looking, that a marked time stands for its exact power of two: 20 to 1
(common practice, no source; electronic shutters run at powers of two)."""
TIME_RULE_UNSURE = 0.4
"""Probability of the other time rule that deserves a flag."""
SLIP_EV = 0.2
"""A single frame further off than this, and than its scatter explains, is called a slip."""
SLIP_PRIOR_DOF = 3.0
"""Weight, in frames, of SHUTTER_SCATTER_EV where slips are judged: five or six frames can't tell
their own scatter, and shutters that err by far more are rare (common practice, no source)."""
BLACK_DISAGREEMENT_DN = 2.0
"""Sources of black that differ by more are a flag."""
BLACK_FALSE = 2e-4
"""... if scatter alone shows as much only so often in a channel."""
PLATEAU_EV = 0.25
"""Exposure must rise by this much without a rise of level before a level is called clip."""
MASKED_U_DN = 0.3
"""Standard uncertainty of masked pixels as black: light leaks in from the edge."""
TAG_U_DN = 0.6
"""Standard uncertainty of a black tag: readers cut fractions off."""
CUT_SHARE = 0.05
"""Share of dark pixels on the lowest code from which their noise was cut off there: the mean is
then up by 2 % of the noise, by 40 % where half of it is cut."""
CUT_MOST_SHARE = 0.9
"""... and up to which the rest still tells what was cut."""
CUT_U_PART = 0.1
"""Standard uncertainty of a black drawn from the uncut side, as a part of the noise: fixed pattern
and blinking pixels aren't normal."""
CUT_U_DN = 0.2
"""... and of the steps of the codes, which don't average out where noise is but a code or two."""
CUT_PIXELS = 200
"""Pixels that a variance counts for which was completed from the uncut side: 10 %."""
LATE_SHUTTER_S = 0.0002
"""Limits of a time by which all shutter times are short or long: a third of a stop at 1/1000 s
(common practice, no source)."""
LEVEL_FLOOR_DN = 0.02
"""Smallest standard uncertainty of a mean level: coding steps don't average to nothing."""
LEVEL_FLOOR_FRACTION = 0.0005
"""... and of a mean level relative to itself: shading and pattern move with focus and iris."""

# --- our own tuning: marks and readings --------------------------------------------------

MARK_TOLERANCE = 0.015
"""A value this close to a mark, as a part of it, is that mark: takes in what metadata make of marks
(three digits, APEX in hundredths), and leaves out 1/128 s (2.4 % from 1/125) and 1/64 s (6.7 %
from 1/60)."""
READING_RANGE = (1e-9, 1e9)
"""Smallest and greatest plain number taken from a reading: keeps a stuck key out of the sums."""
READING_EV_LIMIT = 40.0
"""No light has an EV beyond this: the disc of the sun is near EV 33 (from memory)."""

TIME_RANGE_S = (1e-6, 36000.0)
"""Shortest and longest shutter time taken from a file or a sheet: ten hours."""
F_NUMBER_RANGE = (0.3, 130.0)
"""Least and greatest f-number or T-stop taken; no lens in air opens beyond f/0.5."""
ISO_RANGE = (1.0, 5e6)
"""Lowest and highest ISO label taken."""

# --- our own tuning: frames --------------------------------------------------------------

INTEGRITY_ROWS = 256
"""Rows looked at for filled-in values: a truncated copy misses far more than one row in 256."""
INTEGRITY_RUN_PX = 128
"""Neighbours that noise won't leave equal: at 0.2 DN of noise 1 run in 5 would be, at 0.3 none."""
INTEGRITY_FILL_SHARE = 0.01
"""Filled-in part from which a frame is refused; some bodies have dead columns at an edge."""
SMALLEST_WHITE_DN = 1023.0
"""Top of the coarsest coding measured (10 bit), for frames whose white level isn't known."""
LOWEST_CLIP_SHARE = 0.25
"""Pixels that are all equal below this part of the range aren't clipped."""
DARK_FRAME_DN = 64.0
"""A frame that stays this close to black is taken for a lens-cap frame."""
GARBAGE_SHARE = 1e-3
"""Impossible values beyond this share of the pixels are garbage; hot pixels stay below it."""
GARBAGE_LEAP_SHARE = 0.3
"""... where more than this part of them differs from the next pixel by a quarter."""
TOP_SHARE = 0.001
"""Pixels on the highest codes that are hot or odd ones, whatever stands below them."""
CODE_STEPS = (257, 256, 128, 64, 32, 16, 8, 4, 2)
"""Steps of codes looked for: up to eight bits dropped; 257 spreads 8 bits over 16."""
SPREAD_SAMPLE = 256
"""Rows and columns looked at for values of 8 bits that were spread over more."""
SPREAD_MIN_CODES = 8
"""Codes in use that show such a spread; fewer may lie evenly by chance."""
STEP_MIN_CODES = 3
"""Codes in use, at a step's distance, that show the step: noise leaves none out between them."""
STEP_MIN_PIXELS = 32
"""Fewer pixels can lie on even codes by chance, as those that clip left over in a corner."""
STEP_ODD_SHARE = 0.01
"""Pixels off the step that are mended or hot ones."""
GAP_MIN_CODES = 12
"""Codes in use needed before their gaps mean a push."""
GAP_MIN_STEPS = 4
"""Steps from code to code needed before they mean a coding; one may part two tones."""
GAP_MIN_COUNT = 8
"""Pixels on both neighbours of a gap: a code between them is left out by chance once in 3000."""
GAP_LONGEST_DN = 256
"""Longer gaps part two tones of the scene, not two codes of a coding."""
LOSSY_GAP_SHARE = 0.5
"""Irregular gaps above this share mean a curve or a lossy coding."""
MASKED_MIN_MARGIN_PX = 8
"""Narrower masked borders aren't used."""
MASKED_GUARD_PX = 4
"""Masked pixels this close to the image catch stray light (common practice, no source)."""
MASKED_OUTER_PX = 2
"""Outermost pixels of the readout, often filled in."""
MASKED_SAMPLES = 512
"""Rows or columns of a masked border that are read: 0.01 DN of the mean for 5 DN of noise."""
MASKED_HIGHEST_SHARE = 0.2
"""Border pixels above this part of the white level aren't masked."""
MASKED_SPREAD_DN = 2.0
"""Borders whose levels differ by more aren't pooled."""
MASKED_LARGE_PART = 0.5
"""Borders with at least this part of the largest one's pixels count as large."""
MASKED_LEAK_DN = 0.5
"""Rise towards the image that tells of a leak: MASKED_U_DN over half the width, doubled."""
OUTLIER_SIGMAS = 6.0
"""Hot and dead pixels are left out beyond this many robust standard deviations: of clean normal
noise that drops 2 in 10^9."""
GAP_MIN_RUNS = 6
"""Gaps needed before they make a pattern."""
GAP_MIN_SHARE = 0.02
"""Unused codes below this share come from the converter, not from a push."""
DARK_U_DN = 0.1
"""Standard uncertainty of dark frames as black beyond their own scatter: dark signal, drift."""
LENS_TRANSMITTANCE_RANGE = (0.75, 0.95)
"""Transmittance of photographic lenses, simple ones above, zooms below (common practice, no
source)."""
APERTURE_MARK_EV = 0.05
"""Limits of an iris against its mark at one setting (common practice, no source)."""
CARD_REFLECTANCE_EV = 0.08
"""Limits of a card sold as 18 %: 17 to 19 % (common practice, no source)."""
FEW_FRAMES = 4
"""Fewer frames than this on the straight part can't show a slip."""
UNEVEN_PATCH_EV = 0.04
"""Difference of light between patch and meter that deserves a flag: 0.16 EV across the patch, from
corner to corner, two thirds of a stop over the frame, or a third and a patch off its middle."""
POINTING_PART = 1.0 / 16.0
"""Part of the frame within which a meter points at its middle (common practice, no source)."""
PULSE_SIGMAS = 4.5
"""Change of a slope from frame to frame, over its uncertainty, that chance rarely exceeds."""
UNEVEN_EXPOSURES_EV = 0.09
"""Scatter of frames beyond what shutters do (0.05 EV): an iris or a flickering light."""
PATCH_GRID = (64, 48)
"""Blocks across and down in which an even area is looked for."""
PATCH_BLOCK_PX = 16
"""Least side of a block: small frames get fewer blocks, so that each still has a few strips."""
PATCH_STRIPS = 8
"""Strips read of each block: a few per cent of the time that decoding takes."""
PATCH_TOLERANCES = (0.03, 0.075)
"""Even means within this part of the level: 0.04 EV; else 0.1 EV, 15 % from edge to edge."""
PATCH_NOISE_SIGMAS = 4.0
"""... and this many standard errors of a block: 1 of 16 000 falls outside by chance."""
PATCH_ROW_NOISE_DN = 0.5
"""Rows differ by so much beyond their pixels' noise, coding steps included."""
PATCH_SEEDS = 60
"""Areas tried; each leaves its own blocks out of the search."""
PATCH_EDGE_SHARE = 0.1
"""Left off at each side of an even area: its edges may be blurred or shaded."""
PATCH_MOST_SHARE = 0.25
"""Longest side of a patch as a part of the frame's: little vignetting, quick statistics."""
PATCH_MIN_PX = 32
"""Shortest side of a patch: 256 samples of each Bayer channel."""
PATCH_CENTRE_SCALE = 0.28
"""Distance from the middle, in frame sides, at which an area counts 1/e of what it would there."""
PATCH_EDGED_WEIGHT = 3.0
"""What an area counts that ends at edges on three sides or more: less than 2 misses a card in a
corner of an even background, more than 4 prefers a label on a card that fills the frame."""
PATCH_LEVELS = (0.02, 0.95)
"""Parts of the range between which a grey target is expected: background may be dark or clipped."""
PATCH_UNLIKELY_WEIGHT = 0.25
"""What an area outside of them counts."""
LIGHT_DRIFT_EV = 0.1
"""Difference between readings before and after that deserves a flag, where the meter's own figures
don't allow as much."""
DRIFT_SHAPE = 0.25
"""Part of a drift that the mean of readings before and after may miss when it isn't straight."""
NARROW_F_NUMBER = 4.0
"""From here on no body multiplies its raw values for the aperture (common practice, no source)."""
TREND_EV = 0.06
"""Change of light over the series, seen in the frame errors, that deserves a flag."""
TREND_FALSE = 0.005
"""... if scatter alone shows as much only so often."""
STEADY_SHARE, STEADY_EV, DRIFTING_EV = 0.9, 0.02, 0.2
"""Before looking, nine lights of ten are steady within 0.02 EV over a series, the tenth drifts by
0.2 EV or so (both standard deviations; common practice, no source)."""
DRIFT_FALSE = 0.01
"""Readings of a steady light differ so much only so often, by the meter's own figures; more is
called drift."""
GROUPS_EV = 0.4
"""Distance between two groups of frames from which a series is refused."""
WIDEST_EV = 1.0
"""Half of the widest interval that can be acted on; a wider result is refused."""
SHEET_AGAINST_FILES_EV = 0.45
"""A sheet that differs from the files by more is told of: more than a third of a stop between marks
as they are written (f/1.2 and f/1.4 are 0.44 EV apart)."""
T_STOP_LOSS_EV = 1.5
"""A T-stop lies up to this above its f-number, lenses with a filter at the stop counted (common
practice, no source)."""
UNUSUAL_OFFSET_EV = 1.0
"""Bodies and meters disagree by half a stop (common practice, no source); twice that is odd."""
PHASE_UNLIKE = 0.9
"""Cosine between the colours of a frame and the others' up to which they count as different."""
PHASE_LIKE = 0.98
"""... and from which they are the same, the channels changed about."""
PHASE_LEAST_DN = 20.0
"""Differences between the channels that blacks of different height don't make."""
PHASE_HIGHEST_SHARE = 0.9
"""Levels above this part of the highest one may hold clipped pixels, which pale the colours."""
PHASE_MIN_FRAMES = 3
"""Frames that tell how the colours usually lie."""
BANDING_FRACTION = 0.01
"""Row banding, as a part of the level, that tells of pulsing light under a rolling shutter."""
SMOOTHED_RATIO = 0.85
"""Neighbour over temporal variance under which the raw was smoothed; clean sensors: 1 up."""

# --- our own tuning: the meter and the lens as instruments ---------------------------------

LEVEL_GAP_EV = 0.25
"""Frames next to each other whose light differs by less stand under one light: four or five
shutter scatters of 0.05 EV between two frames."""
LEAST_LEVELS = 4
"""Light levels that show how a meter strays over its range."""
LEAST_REPEATS = 4
"""Readings beyond the first of each level that tell how a meter repeats itself."""
LINEARITY_REACH_EV = 0.5
"""So far beyond the last measured level a meter counts as it does there."""
PLAN_STRAIGHT_EV, PLAN_STRAIGHT_MOST_EV = 0.014, 0.0097
"""Doubt of the straight line that one frame on it leaves, falling with their root, and what a bend
of STRAIGHT_WITHIN at clip makes (both from simulated series of three-colour bodies)."""
PLAN_ELECTRONIC_MIN = 5.0
"""Minutes of shooting that an electronic shutter is worth to avoid: it isn't how most people work
(our choice, no source)."""
PLAN_ONE_APERTURE_MIN = 10.0
"""... and working at one aperture alone (our choice, no source)."""
PLAN_SINGLES_MIN = 3.0
"""... and having no two of each frame, which tell the noise (our choice, no source)."""

# --- our own tuning: on set ----------------------------------------------------------------

HEADLINE_LEFT_EV = 0.2
"""Rounding to marks that leaves over more than this belongs in the first sentence: it is more than
what a careful user can reach, about 0.1 EV (common practice, no source)."""
FLICKER_SAFE_EV = 0.05
"""Peak-to-peak flicker of a fully pulsing light below which a time counts as free of it: takes in
1/50 s run as 1/50.8 at 50 Hz, leaves out 1/60 s run as 1/64 at 60 Hz (0.19 EV)."""
PLAN_HEADROOM_DOUBT_EV = 0.7
"""Limits within which a body's headroom is expected around that of a body whose saturation speed
is its label: labels of one body differ by up to 0.96 EV (issue threads of raw decoders)."""
PLAN_LOWEST_EV = 7.0
"""Stops below clip of the darkest frame planned: 1/128 of the range, above LINE_LOW_FRACTION."""
PLAN_FRAME_S = 6.0
"""Seconds from frame to frame when a dial is turned between them (common practice, no source)."""
PLAN_READING_S = 30.0
"""Seconds for a reading taken anew and written down (common practice, no source)."""
ELECTRONIC_SCATTER_EV = 0.005
"""Scatter from frame to frame without a moving shutter or iris, times counted by a crystal (common
practice, no source)."""
KNOWN_CARD_EV = 0.02
"""Limits of a card whose reflectance is stated to a quarter of a per cent (computed from that)."""
FINE_STEP_EV = 0.01
"""Step of a meter that shows hundredths of an EV, or lx and cd/m2 in three figures (computed: 0.014
at 1.00, 0.0014 at 9.99)."""
SHORTEST_TIME_S = 1.0 / 8000.0
"""Shortest time in s that most bodies have (common practice, no source)."""
SMALLEST_F_NUMBER = 22.0
"""How far most lenses close (common practice, no source)."""
LONG_TIME_S = 1.0
"""From here on bodies take a dark frame off (common practice, no source)."""
LONGEST_COUNTED_S = 14_400.0
"""Longest time in s that is proposed for bulb: beyond four hours the light hardly stays as it was
read (our choice, no source)."""
GRADIENT_CHANGE = 0.04
"""Change of the gradient across the patch from frame to frame (part of the level); clean: 0.005."""
STRAIGHT_WITHIN = 0.02
"""Part by which a response may leave the straight line at clip without a sign in the data
(BEND_FRACTION), where the channels don't show it to be straighter."""
BEND_U_EV = 0.03
"""Standard uncertainty of where a bend reaches its limit: frames lie a third of a stop apart."""
MODES_DISAGREE_SIGMAS = 2.5
"""Difference of two modes beyond their constants, over its uncertainty, that deserves a flag."""

# --- our own tuning: limits ----------------------------------------------------------------

LARGEST_TEXT_BYTES = 64 << 20
"""Sheets, tables, profiles and the like beyond this aren't read: a profile of 40 frames has 32 kB,
a table of 100,000 results about 40 MB."""
DECODE_S, DECODE_S_PER_MB = 20.0, 2.0
"""A frame that takes longer to decode has hung: for one of 40 MB, which takes 0.5 s, 100 s."""
DECODE_ROOM_BYTES, DECODE_ROOM_TIMES = 1 << 30, 8
"""Memory that a frame may take, and as many times its size: values of 16 bits stored as 4."""
CLOCK_TICK_S = 2.0
"""A file that changed so shortly before it was read may have changed again unseen: file systems of
memory cards count in steps of 2 s (common practice, no source)."""

# --- our own tuning: pairs and noise -------------------------------------------------------

PAIR_READINGS_EV = 0.3
"""Readings of one light differ by up to this: twice a repeatability of 0.1 EV and one display step;
what light they really saw is judged by the levels."""
PAIR_LEVEL_PART = 0.1
"""Levels of a pair differ by less: two shutter scatters of 0.05 EV. What a fixed pattern or a slope
then adds to the temporal variance is below a quarter of the square, 0.25 %."""
PAIR_WINDOW = 6
"""Equal frames whose patches are held at once, 3 MB each at 24 MP."""
PAIR_NEIGHBOURS = 2
"""Next frames in level that one is compared with: one more than needed, if the sheet rules out."""
GAIN_MOST_U = 0.2
"""A gain whose standard uncertainty is more than this part of it says nothing: +-0.6 EV."""
