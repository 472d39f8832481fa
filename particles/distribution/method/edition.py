"""
Method editions: each a frozen value, bound to a batch when it starts.

Times, limits and corrections are *common practice* where no source is named; `sources` is printed.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from particles.distribution.method.limits import QualityLimits
from particles.distribution.record import ADDED, ClayExtrapolation, Correction, Interpolation, stored_as


@dataclass(frozen=True, slots=True)
class InputUncertainties:
    """Standard uncertainties of the inputs; *common practice*. Shared ones are drawn once per draw."""

    reading_g_l: float = 0.3
    """Each reading on its own. [g/L]"""
    scale_division_g_l: float = 0.5
    """Resolution of a 152H as a full interval, drawn evenly, each reading on its own. [g/L]"""
    scale_division_density: float = 0.0005
    """Resolution of a 151H as a full interval, drawn evenly, each reading on its own. [relative density]"""
    blank_g_l: float = 0.3
    """Shared by all readings of a run: how far the liquid of the blank differs from that of the run. [g/L]"""
    particle_density_g_cm3: float = 0.05
    mass_g: float = 0.05
    moisture_of_mass_pct: float = 0.3
    """Moisture, as a share of the mass, only when the oven-dry mass comes from a moisture. [%]"""
    volume_pct: float = 0.3
    temperature_c: float = 0.5
    """Offset of the thermometer, in settling only. [C]"""
    depth_cm: float = 0.2
    start_s: float = 1.0
    """Time at which stirring ended. [s]"""
    sieve_mass_g: float = field(default=0.02, metadata=ADDED)
    """Each sieve's sand on its own. [g]"""
    blank_reading_g_l: float = field(default=0.0, metadata=ADDED)
    """Each reading of the blank on its own, scale division included. [g/L]"""
    thermometer_c: float = field(default=0.0, metadata=ADDED)
    """Each reading of a thermometer on its own, in what the blank's temperature takes off a reading. [C]"""
    sieve_opening_pct: float = field(default=0.0, metadata=ADDED)
    """Openings of a stack, all alike. [%]"""
    reading_off_bias: float = field(default=1.0, metadata=stored_as("reading_off_lean", ADDED))
    """Reading off straight between two points: how far the curve is taken to lie off the line, as a share of what the
    bend of the points suggests (`bend.bend_at`). Moves the intervals, never the figures. [-]"""
    reading_off_share: float = field(default=0.5, metadata=ADDED)
    """Uncertainty left then: standard deviation at a limit as a share of the magnitude of the bend, each limit on its
    own. Both are calibrated on invented soils (`particles.benchmarks.reading_off`); the share is wide for the monotone
    cubic. An edition stored without one of them has it at this value when it is computed now; 0 and 0 leave reading
    off out. [-]"""


@dataclass(frozen=True, slots=True)
class MethodEdition:
    """One edition of a method; never altered, only followed by the next."""

    code: str
    title: str
    edition_on: str
    """Day of the edition, ISO 8601."""
    schedule_s: tuple[float, ...]
    """Nominal reading times, rising. Sizes come from the true elapsed time. [s]"""
    clay_limit_um: float = 2.0
    sand_limit_um: float = 50.0
    sand_sieve_openings_um: tuple[float, float] = (50.0, 53.0)
    """Openings, from and to, accepted as the sieve of the sand limit. [µm]"""
    texture_system: str = "USDA"
    correction: Correction = Correction.MEASURED_BLANK
    depth_rule: str = "line or table of the instrument at the true liquid level, blank not subtracted"
    still_inserted_until_s: float | None = None
    """Readings at or before it get the insertion displacement added; None: depth as calibrated. [s]"""
    blank_window_s: float = 1800.0
    draws: int = 2000
    dispersion_sd_pct: float = 1.5
    """Between-run standard deviation of clay and of sand: dispersion, subsampling, operator.
    Common practice 1 to 2. [percentage points]"""
    uncertainties: InputUncertainties = field(default_factory=InputUncertainties)
    soak_minimum_h: float = 12.0
    sources: tuple[str, ...] = ()
    certifiable: bool = True
    """False: results carry only their own names, never sand, silt and clay at size limits."""
    interpolate_missing_blank: bool = field(default=False, metadata=ADDED)
    """A blank forgotten between two others of the same cylinder is taken from them, flagged, with more uncertainty."""
    windows: tuple[tuple[float, float], ...] = field(default=((30.0, 2.0), (60.0, 3.0)), metadata=ADDED)
    """(nominal time up to and including, allowed distance from it), times rising. [s]"""
    later_window_pct: float = field(default=2.0, metadata=ADDED)
    """Allowed distance from the nominal time after the last of `windows`. [% of the time]"""
    limits: QualityLimits = field(default_factory=QualityLimits, metadata=ADDED)
    interpolation: Interpolation = field(default=Interpolation.STRAIGHT, metadata=ADDED)
    clay_extrapolation: ClayExtrapolation = field(default=ClayExtrapolation.FACTOR, metadata=ADDED)
    also_systems: tuple[str, ...] = field(default=(), metadata=ADDED)
    """Further texture systems to report, codes of `TEXTURE_SYSTEMS`."""
    confirmed_systems: tuple[str, ...] = field(default=(), metadata=ADDED)
    """Systems whose lines are from memory here and that the laboratory has checked against its own copy."""
    sand_at_limit: bool = field(default=False, metadata=ADDED)
    """Sand on a sieve that lies beside the sand limit, 53 for 50 µm, is brought to the limit along the curve; else it
    counts as it was weighed. Intervals are those of the limit either way."""
    least_points: int = field(default=0, metadata=ADDED)
    """Usable readings without which there is no curve to certify; 0: the edition asks for none."""
    widest_gap: float | None = field(default=None, metadata=ADDED)
    """Widest gap between two points, as a ratio of diameters, in whose middle a size limit may lie; nearer to one of
    them a wider gap errs no more. A limit beyond the points needs the outermost slot of the schedule on that side.
    None: the edition asks for neither. [-]"""
    blank_by_physics: bool = field(default=False, metadata=ADDED)
    """A reading of the blank serves a reading by the temperature of both, whatever the minutes between them, and what
    moved in the blank is found once for a run; else `blank_window_s` holds and every slot is judged alone."""
    soak_maximum_h: float = field(default=72.0, metadata=ADDED)
    """Longest soak that is not told to the reviewer; *common practice*: longer than a long weekend the dispersant loses
    its strength and the soil may begin to rot. An edition stored without one has it at this value. [h]"""
    follows: str = field(default="", metadata=ADDED)
    """Code of the edition it takes the place of, which is then no longer offered for new work; '' for none."""

    def window_s(self, nominal_s: float) -> float:
        """How far a reading may be taken from its nominal time. [s]"""
        for up_to_s, allowed_s in self.windows:
            if nominal_s <= up_to_s:
                return allowed_s
        return nominal_s * self.later_window_pct / 100.0
