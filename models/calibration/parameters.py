"""Every constant of the diameter model, with its source. Standard deviations are on the log scale.

A prior on a standard deviation is log-normal about the stated median. None of these is a result: recorded
whips correct all of them, and accuracy must survive a change of any by 30 per cent.
"""

from dataclasses import dataclass, fields
from typing import Any, Self

from plaitlog.models.geometry import CONSTANTS, GeometryConstants


@dataclass(kw_only=True, eq=False)
class Parameters:
    """Keyword-only, stored as given.

    packing_* ... sheath_share : constants of the geometry, see ``GeometryConstants``.
    sd_role : how far a role's level may lie from the geometry: physical reasoning, packing fractions of
        bundles and walls are known to 15 per cent or so.
    sd_cover, sd_wall : slopes on log cover and on log(d_m / (D_in + wall_offset d)): physical reasoning, they
        let the angle law and the wall law range from a fixed angle to the closing angle. That of the wall by
        cross-validation of new whips on three kinds of simulated workshops: from eight whips a wider one lets
        a thicker wall thicken itself without end, from twenty on it makes no difference.
    sd_log_diameter, sd_hollow, sd_solid : cord properties; mechanics are nearly free of scale.
    mean_packing, sd_packing : slope on log bare packing. Physical reasoning: 0 if fibre packs alike whatever
        cord it comes from, -1 if a cord keeps its bare volume; the mean by cross-validation of new cords on
        three kinds of simulated workshops, where -0.2 and -0.3 did equally well.
    sd_first, sd_above, sd_bundle, sd_float : first plaited layer without a core, each plaited layer
        above, log strand count of a bundle, log of the mean float; physical reasoning: small corrections.
    mean_softness, sd_softness : slope on log(a / (pressed w)): physical reasoning, a cord that packs
        densely between caliper jaws packs densely in the plait, most of the way (half of it to nearly all).
    sd_measured : offset of cords whose pressed thickness is known: physical reasoning, hands press
        harder or softer by some 4 per cent of the thickness; less than what pressing tells of a cord.
    sd_turned : level of plaits whose turn length is measured: physical reasoning, a measured angle differs
        from that of the cover law by some degrees, for which the level of the role makes up elsewhere.
    sd_material, sd_condition, sd_method, sd_inner : on the contribution (material) and on log D.
    sd_unweighed : spread of fibre area guessed from the caliper diameter (soft to hard laid cord).
    sd_unmeasured_width : spread of flat width guessed from the caliper diameter: physical reasoning, flat
        widths of cords of one diameter and construction differ by some 6 per cent.
    sd_unpressed : spread of what the pressed thickness tells of a cord: physical reasoning, the softness of
        cords of one construction differs by some 7 per cent, of which ``mean_softness`` goes into the plait.
    *_median, *_log_sd : priors of the variance components, on the log contribution for cord (beyond what its
        width and softness do), cord_role, cord_count, lot, smooth and slot, on log D for maker, whip, drift
        (per metre) and residual. Those of cord and cord_role by cross-validation of new cords on three kinds
        of simulated workshops: wider ones leave the errors as they are and make intervals too wide.
    caliper_mm : repeatability of a caliper reading on a plait (common practice, no source).
    freedom : degrees of freedom of the Student t that robust weights come from.
    suspect_weight : below this robust weight a reading is reported as suspect.
    centres : kernel centres of the smooth; iterations : linearisations at most; draws : of the variance
        components to average over; random_state : their seed.
    """

    packing_bare: float = CONSTANTS.packing_bare
    packing_solid: float = CONSTANTS.packing_solid
    packing_core: float = CONSTANTS.packing_core
    packing_plait: float = CONSTANTS.packing_plait
    angle_deg: float = CONSTANTS.angle_deg
    gamma: float = CONSTANTS.gamma
    width_cored: float = CONSTANTS.width_cored
    width_gutted: float = CONSTANTS.width_gutted
    sheath_share: float = CONSTANTS.sheath_share
    wall_offset: float = 1.5
    sd_role: float = 0.15
    sd_cover: float = 0.3
    sd_wall: float = 0.15
    sd_log_diameter: float = 0.05
    mean_packing: float = -0.25
    sd_packing: float = 0.15
    sd_hollow: float = 0.06
    sd_solid: float = 0.1
    sd_first: float = 0.1
    sd_above: float = 0.05
    sd_bundle: float = 0.05
    sd_float: float = 0.05
    mean_softness: float = -0.7
    sd_softness: float = 0.2
    sd_measured: float = 0.03
    sd_turned: float = 0.07
    sd_material: float = 0.04
    sd_condition: float = 0.03
    sd_method: float = 0.02
    sd_inner: float = 0.03
    sd_unweighed: float = 0.12
    sd_unmeasured_width: float = 0.06
    sd_unpressed: float = 0.05
    cord_median: float = 0.03
    cord_role_median: float = 0.025
    cord_count_median: float = 0.03
    smooth_median: float = 0.08
    lot_median: float = 0.02
    maker_median: float = 0.03
    whip_median: float = 0.03
    slot_median: float = 0.04
    drift_median: float = 0.01
    residual_median: float = 0.012
    between_log_sd: float = 0.4
    within_log_sd: float = 0.5
    caliper_mm: float = 0.05
    freedom: float = 6.0
    suspect_weight: float = 0.3
    centres: int = 32
    iterations: int = 30
    draws: int = 16
    random_state: int = 20260101

    def get_params(self, deep: bool = True) -> dict[str, Any]:
        """Parameters by name (the estimator convention; nothing is nested, so ``deep`` changes nothing)."""
        return {field.name: getattr(self, field.name) for field in fields(self)}

    def set_params(self, **params: Any) -> Self:
        """Change parameters by name. Raises ValueError for a name that does not exist."""
        unknown = sorted(set(params) - {field.name for field in fields(self)})
        if unknown:
            raise ValueError(f"no such parameter: {', '.join(unknown)}")
        for name, value in params.items():
            setattr(self, name, value)
        return self

    @property
    def geometry(self) -> GeometryConstants:
        return GeometryConstants(
            packing_bare=self.packing_bare,
            packing_solid=self.packing_solid,
            packing_core=self.packing_core,
            packing_plait=self.packing_plait,
            angle_deg=self.angle_deg,
            gamma=self.gamma,
            width_cored=self.width_cored,
            width_gutted=self.width_gutted,
            sheath_share=self.sheath_share,
        )
