"""Where the machine stands: height, weather and temperature, and so the pressure outside."""

from pydantic import BaseModel, ConfigDict, Field

from flows.physics.atmosphere import hypsometric_kpa, mean_column_c, station_pressure_kpa

WEATHER_KPA = 3.0  # highs and lows move sea-level pressure about this far on nearly all days
REPORT_KPA = 0.5  # a report's whole hectopascals, its age and distance, and the height known to some 20 m


class Site(BaseModel):
    """The place of the job. Height above sea level [m], temperatures [degC], QNH of a weather report [hPa]."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)
    altitude_m: float = Field(default=0.0, ge=-500, le=6000)
    outdoor_c: float = Field(default=15.0, ge=-60, le=60)
    qnh_hpa: float | None = Field(default=None, ge=850, le=1100)
    thermometer_c: float | None = Field(default=None, ge=-60, le=80)  # beside the cold engine

    def pressure_kpa(self) -> tuple[float, float, float, str]:
        """Pressure outside [kPa]: low, nominal, high, and one sentence saying where it comes from.

        With a QNH the station pressure follows exactly (ISO 2533); without, from a standard day at sea level, the
        height and the outdoor temperature (hypsometric), give or take the weather.
        """
        if self.qnh_hpa is not None:
            nominal, spread = station_pressure_kpa(self.qnh_hpa, self.altitude_m), REPORT_KPA
            because = (
                f"By the weather report it is {nominal:.1f} kilopascals at {_metres(self.altitude_m)}, "
                f"give or take {spread:g}."
            )
        else:
            mean_c = mean_column_c(self.outdoor_c, self.altitude_m)
            nominal, spread = hypsometric_kpa(self.altitude_m, mean_c=mean_c), WEATHER_KPA
            because = (
                f"Outside pressure at {_metres(self.altitude_m)} is {nominal:.1f} kilopascals, "
                f"give or take {spread:g} for weather."
            )
        return nominal - spread, nominal, nominal + spread, because


def _metres(altitude_m: float) -> str:
    return f"{altitude_m:.0f} metres".replace("-", "minus ")
