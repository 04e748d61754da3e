"""The mould: flux laws over the age of the steel and their means, water and copper, oscillation and taper."""

from solidify.heat.mould.decay import decay_from_mean, decay_from_means
from solidify.heat.mould.flux_law import (
    LUBRICANTS,
    FluxLaw,
    dip_times,
    doubtful,
    fading,
    law_from_coefficients,
    law_from_mean,
    law_notices,
)
from solidify.heat.mould.mean_flux import (
    carbon_factor,
    default_peak,
    default_relation,
    flux_error,
    handbook_exponent,
    handbook_mean_flux,
    handbook_notices,
    mean_flux_cicutti,
    mean_flux_range,
    mean_flux_relations,
)
from solidify.heat.mould.oscillation import (
    mark_pitch,
    mould_speed_ratio,
    negative_strip_ratio,
    negative_strip_time,
)
from solidify.heat.mould.taper import TaperProfile, taper_profile
from solidify.heat.mould.water_side import (
    copper_hot_face,
    mean_flux_from_water,
    slot_velocity,
    tube_slot_area,
    water_film_coefficient,
    water_rise,
)

__all__ = [
    "FluxLaw",
    "LUBRICANTS",
    "TaperProfile",
    "carbon_factor",
    "copper_hot_face",
    "decay_from_mean",
    "decay_from_means",
    "default_peak",
    "default_relation",
    "dip_times",
    "doubtful",
    "fading",
    "flux_error",
    "handbook_exponent",
    "handbook_mean_flux",
    "handbook_notices",
    "law_from_coefficients",
    "law_from_mean",
    "law_notices",
    "mark_pitch",
    "mean_flux_cicutti",
    "mean_flux_from_water",
    "mean_flux_range",
    "mean_flux_relations",
    "mould_speed_ratio",
    "negative_strip_ratio",
    "negative_strip_time",
    "slot_velocity",
    "taper_profile",
    "tube_slot_area",
    "water_film_coefficient",
    "water_rise",
]
