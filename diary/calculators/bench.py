"""The calculators as they are asked for: arguments with units in, a sentence with its figures out.

Each function here only words an answer; the formula, its limits and source are in the module that it calls.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from diary.calculators import economy_units, electrics, fluids, fuel_costs, intervals, pressure, tyres
from diary.calculators import refrigerant as gas
from diary.calculators import tank as fuel_tank
from diary.calculators import torque as bolts
from diary.calculators.answer import Answer, Measure, figure, row
from diary.calculators.conversion import convert, unit_code
from diary.calculators.economy import rollover_distance
from diary.calculators.tables import table
from diary.errors import DiaryError


def _in(measure: Measure, unit: str) -> float:
    return measure.value if measure.unit == unit else convert(measure.value, measure.unit, unit)


def convert_unit(value: Measure, to: str) -> Answer:
    """One unit into another."""
    if not value.unit:
        raise DiaryError("convert needs the value's unit, such as 85ft_lb.")
    unit = unit_code(to)
    result = convert(value.value, value.unit, unit)
    return Answer(f"{figure(value.value, 4)} {value.unit} is {figure(result, 4)} {unit}.", [row(result, unit)])


def economy(distance: Measure, fuel: Measure, unit: str | None) -> Answer:
    """Economy of one tank."""
    if not distance.value > 0 or not fuel.value > 0:
        raise DiaryError(f"Economy needs distance and fuel above zero, not {distance.value:g} and {fuel.value:g}.")
    out = unit_code(unit) if unit else economy_units.economy_unit(distance.unit, fuel.unit)
    value = economy_units.economy_value(distance.value, fuel.value, distance.unit, fuel.unit, out)
    text = (
        f"{figure(distance.value, 4)} {distance.unit} on {figure(fuel.value)} {fuel.unit} is {figure(value, 4)} {out}."
    )
    return Answer(text, [row(value, out)])


def cost(paid: float, distance: Measure) -> Answer:
    """Cost per distance: paid ÷ distance."""
    if paid < 0 or not distance.value > 0:
        raise DiaryError("Cost needs money of zero or more and a distance above zero.")
    value = paid / distance.value
    return Answer(f"{figure(value, 4)} per {distance.unit}.", [row(value, f"per_{distance.unit}")])


def co2(fuel: Measure, kind: str) -> Answer:
    """Carbon dioxide from fuel burned."""
    grams = fuel_costs.co2_grams(fuel.value, fuel.unit, kind)
    return Answer(
        f"{figure(grams / 1000)} kg of CO2 from {figure(fuel.value)} {fuel.unit} of {kind}.", [row(grams / 1000, "kg")]
    )


def range_left(tank: Measure, driven: Measure, economy: Measure) -> Answer:
    """Distance left in the tank."""
    size = tank
    litres = _in(size, "L")
    per_km = convert(economy.value, economy.unit, "L_per_100km") / 100
    per = per_km * (1.609344 if driven.unit == "mi" else 1.0)
    found = fuel_tank.range_left(litres, driven.value, per, spread=0.07 * per, distance_unit=driven.unit, fuel_unit="L")
    left = convert(found.fuel_left, "L", size.unit)
    text = (
        f"About {figure(found.value)} {found.unit} left on {figure(left)} {size.unit}; plan on no more than "
        f"{figure(found.cautious, 2)}. The economy is taken as good to 7 %."
    )
    return Answer(
        text, [row(found.value, found.unit, found.plus_minus), row(found.cautious, found.unit)], certain=False
    )


def gauge(pairs: Sequence[tuple[float, float]], reading: float, unit: str) -> Answer:
    """Fuel to the brim by a calibrated gauge."""
    if any(not isinstance(p, tuple | list) or len(p) != 2 for p in pairs):
        raise DiaryError("gauge: 'pairs' are reading:volume, such as 0.5:12.1,0.25:18.")
    curve = fuel_tank.calibrate_gauge([(p[0], p[1]) for p in pairs], unit_code(unit))
    volume = curve.to_brim(reading)
    text = f"At {figure(reading)} on the gauge about {figure(volume)} {curve.unit} goes in, by {len(pairs)} fills."
    return Answer(text, [row(volume, curve.unit, curve.scatter or None)], certain=False)


def rollover(before: float, now: float, wraps: float) -> Answer:
    """Distance on a meter that wrapped."""
    value = rollover_distance(before, now, wraps)
    return Answer(f"{figure(value, 4)}, if it turned over once at most.", [row(value, "")])


def tyre_size(size: str) -> Answer:
    """Diameter and turns per mile."""
    t = tyres.tyre(size)
    revs = tyres.revs_per_mile(t)
    text = (
        f"{t.code} is {t.diameter_in:.2f} in ({t.diameter_in * 25.4:.0f} mm) tall, about {revs:.0f} turns a mile "
        f"rolling."
    )
    return Answer(text, [row(t.diameter_in, "in"), row(t.diameter_in * 25.4, "mm"), row(revs, "rev_per_mi")])


def speedo(fitted: str, calibrated: str, speed: Measure, economy: Measure | None) -> Answer:
    """Speedometer and odometer on other tyres."""
    new, old = tyres.tyre(fitted), tyres.tyre(calibrated)
    factor = tyres.correction(old, new)
    true = speed.value * factor
    percent = 100 * (factor - 1)
    way = "under" if percent > 0 else "over"
    text = (
        f"On {new.code} with a meter made for {old.code}, {figure(speed.value)} {speed.unit} shown is "
        f"{figure(true)} true: the "
        f"speedometer and odometer read {abs(100 * (1 - 1 / factor)):.1f} % {way}. Multiply indicated distance by "
        f"{factor:.4f}."
    )
    values = [row(true, speed.unit), row(percent, "percent"), row(factor, "")]
    if economy is not None:
        corrected = economy.value / factor if economy.unit == "L_per_100km" else economy.value * factor
        text += f" {figure(economy.value)} {economy.unit} indicated is {figure(corrected)} true."
        values.append(row(corrected, economy.unit))
    return Answer(text, values)


def course(true: float, indicated: float) -> Answer:
    """Meter factor from a measured course."""
    factor = tyres.correction_from_course(true, indicated)
    return Answer(f"Multiply what the meter shows by {factor:.4f}.", [row(factor, "")])


def stopwatch(seconds: float, distance: Measure) -> Answer:
    """Speed from a timed distance."""
    mph = tyres.speed_from_stopwatch(seconds, _in(distance, "mi"))
    unit = "kmh" if distance.unit == "km" else "mph"
    value = convert(mph, "mph", unit)
    return Answer(f"{figure(value)} {unit}, timed by a passenger.", [row(value, unit)])


def odometer(changed: float, now: float, fitted: str, calibrated: str) -> Answer:
    """True odometer after a tyre change."""
    factor = tyres.correction(tyres.tyre(calibrated), tyres.tyre(fitted))
    value = tyres.true_distance(changed, changed, now, factor)
    return Answer(
        f"The true reading is {value:,.1f} ({now - changed:,.0f} since the change, times {factor:.4f}).",
        [row(value, "")],
    )


def engine_speed(speed: Measure, overall: float, tyre: str) -> Answer:
    """Engine speed at a road speed."""
    rpm = tyres.engine_speed(_in(speed, "mph"), overall, tyres.tyre(tyre).diameter_in)
    return Answer(f"{rpm:.0f} rpm at {figure(speed.value)} {speed.unit}, without slip.", [row(rpm, "rpm")])


def axle(axle_ratio: float, fitted: str, calibrated: str) -> Answer:
    """Axle ratio that restores the engine speed."""
    value = tyres.axle_ratio_to_restore(axle_ratio, tyres.correction(tyres.tyre(calibrated), tyres.tyre(fitted)))
    return Answer(f"{value:.3f} to 1 gives the old engine speed; take the nearest ratio made.", [row(value, "")])


def speedo_rule(speed: Measure) -> Answer:
    """What a speedometer may show."""
    low, high = (convert(v, "kmh", speed.unit) for v in tyres.speedometer_band(_in(speed, "kmh")))
    text = (
        f"At {figure(speed.value)} {speed.unit} true it may show from {figure(low)} to {figure(high)} (UN "
        f"Regulation 39)."
    )
    return Answer(text, [row(low, speed.unit), row(high, speed.unit)])


def torque(size: str, grade: str, thread: str, fastener: str) -> Answer:
    """Estimate from bolt size and grade."""
    found = bolts.estimate(bolts.thread(size), grade, thread, fastener=fastener)
    low, high = found.low / bolts.NM_PER_FT_LB, found.high / bolts.NM_PER_FT_LB
    text = (
        f"Estimate for {found.thread.name}, grade {found.grade}, {thread.replace('_', ' ')}: {found.ft_lb:.0f} ft_lb "
        f"({found.torque:.0f} N_m), {low:.0f} to {high:.0f} ft_lb with friction as it varies; clamp load about "
        f"{found.preload / 1000:.0f} kN, give or take 30 %. The service manual's figure overrides it."
    )
    spread = max(found.high - found.torque, found.torque - found.low)
    return Answer(
        text, [row(found.ft_lb, "ft_lb", spread / bolts.NM_PER_FT_LB), row(found.torque, "N_m", spread)], certain=False
    )


def adapter(torque: Measure, wrench: float, arm: float, angle: float) -> Answer:
    """Wrench setting with a side arm."""
    value = bolts.adapter_setting(torque.value, wrench, arm, angle)
    return Answer(
        f"Set the wrench to {figure(value)} {torque.unit} for {figure(torque.value)} at the fastener.",
        [row(value, torque.unit)],
    )


def friction(torque: Measure, stated: str, now: str) -> Answer:
    """Torque for another thread condition at the same clamp load."""
    a, b = bolts.nut_factor(stated), bolts.nut_factor(now)
    value = bolts.torque_for_friction(torque.value, a, b)
    text = (
        f"{figure(torque.value)} {torque.unit} meant for {stated.replace('_', ' ')} threads is about "
        f"{figure(value)} {torque.unit} "
        f"on {now.replace('_', ' ')} ones; the full figure would clamp {a / b:.2f} times as hard. If the manual "
        f"names the "
        "compound, its figure stands unchanged."
    )
    return Answer(text, [row(value, torque.unit)], certain=False)


def recheck(at: Measure) -> Answer:
    """When to check wheel fasteners again."""
    low, high = bolts.recheck_window(at.value, at.unit)
    return Answer(
        f"Check them again between {low:,.0f} and {high:,.0f} {at.unit}, cold.", [row(low, at.unit), row(high, at.unit)]
    )


def tyre_temperature(pressure: Measure, at: Measure, then: Measure) -> Answer:
    """Pressure of the same air at another temperature."""
    from diary.calculators.pressure import at_temperature

    value = at_temperature(pressure.value, at.value, _in(then, at.unit), pressure.unit, at.unit)
    text = (
        f"{figure(pressure.value)} {pressure.unit} set at {figure(at.value)} {at.unit} reads {figure(value)} "
        f"{pressure.unit} at "
        f"{figure(then.value)} {then.unit}."
    )
    return Answer(text, [row(value, pressure.unit)])


def leak(
    first: Measure, second: Measure, days: float, first_at: Measure, second_at: Measure, floor: Measure | None
) -> Answer:
    """Leak rate, corrected for temperature."""
    unit = first.unit
    found = pressure.leak(
        first.value, first_at.value, _in(second, unit), _in(second_at, first_at.unit), days, unit, first_at.unit
    )
    kind = (
        "no more than a sound tyre loses"
        if found.normal
        else "more than a sound tyre loses: look for a puncture, the valve, the rim"
    )
    text = (
        f"{figure(found.lost, 2)} {unit} lost in {figure(days)} days beside the temperature, "
        f"{figure(found.per_month, 2)} a month: {kind}."
    )
    values = [row(found.per_day, f"{unit}_per_d"), row(found.lost, unit)]
    if floor is not None:
        left = pressure.days_to(_in(second, unit), found.per_day, _in(floor, unit))
        if left is not None:
            text += f" It reaches {figure(floor.value)} {floor.unit} in about {left:.0f} days."
            values.append(row(left, "d"))
    return Answer(text, values)


def floor(placard: Measure) -> Answer:
    """25 % under the placard."""
    value = pressure.warning_floor(placard.value)
    return Answer(
        f"{figure(value, 4)} {placard.unit}: 25 % under the placard, where a US pressure monitor must warn.",
        [row(value, placard.unit)],
    )


def wire(amps: float, length: Measure, percent: float, supply: float, metric: bool) -> Answer:
    """Smallest wire for a load."""
    size, needed = electrics.smallest_wire(amps, _in(length, "m"), percent, supply, metric=metric)
    drop_ = electrics.voltage_drop(size, amps, _in(length, "m"), supply)
    text = (
        f"{size.name} ({figure(size.area_mm2)} mm2): {figure(needed)} mm2 is needed for {figure(amps)} A over "
        f"{figure(length.value)} "
        f"{length.unit} one way; it drops {figure(drop_.volts, 2)} V ({figure(drop_.percent, 2)} %)."
    )
    return Answer(text, [row(size.area_mm2, "mm2"), row(drop_.volts, "V"), row(drop_.percent, "percent")])


def drop(wire: str, amps: float, length: Measure, supply: float) -> Answer:
    """Voltage drop in a wire."""
    size = electrics.wire(wire)
    found = electrics.voltage_drop(size, amps, _in(length, "m"), supply)
    limits = table("electrics")["drop"]
    verdict = "fine" if found.percent <= limits["critical_percent"] else "too much for lamps, pumps and charging"
    if found.percent > limits["other_percent"]:
        verdict = "too much for anything"
    text = (
        f"{size.name} drops {figure(found.volts)} V, {figure(found.percent)} % of {figure(supply)} V, at "
        f"{figure(amps)} A: {verdict}."
    )
    return Answer(text, [row(found.volts, "V"), row(found.percent, "percent")])


def fuse(amps: float, motor: bool, wire: str | None) -> Answer:
    """Fuse for a load."""
    size = electrics.wire(wire) if wire else None
    found = electrics.fuse_for(amps, motor=motor, size=size)
    text = f"{figure(found.rating)} A for {figure(amps)} A continuous ({figure(found.wanted)} A before rounding up)."
    if not found.regular:
        text += " That is past the largest regular blade: a larger blade type, or two circuits."
    if found.fits_wire is False and size is not None:
        text += f" {size.name} must not be fused above {figure(size.largest_fuse or 0)} A: use a thicker wire."
    elif found.fits_wire is None:
        text += " The wire must be able to carry that fuse."
    return Answer(text, [row(found.rating, "A")])


def loads(fuse: float, count: float, each: float | None) -> Answer:
    """May these loads run on a fuse?"""
    if count != int(count):
        raise DiaryError(f"loads: 'count' is a whole number, not {count:g}.")
    found = electrics.loads_on_fuse(fuse, int(count), each)
    if each is None or found.total is None or found.surge is None:
        text = (
            f"A {figure(fuse)} A fuse carries {figure(found.allowed)} A for long, so {int(count)} on it may draw "
            f"{figure(found.each)} A "
            "each; look at their labels or measure one running. Motors take two to three times that to start: "
            "stagger them by relays."
        )
        return Answer(text, [row(found.allowed, "A"), row(found.each, "A")], certain=False)
    verdict = "Yes" if found.fits else "No"
    text = (
        f"{verdict}: {int(count)} at {figure(each)} A draw {figure(found.total)} A, and a {figure(fuse)} A fuse "
        f"carries "
        f"{figure(found.allowed)} A for long."
    )
    if found.surge > fuse:
        text += f" All starting at once take about {figure(found.surge)} A for a moment: stagger motors by relays."
    return Answer(text, [row(found.total, "A"), row(found.allowed, "A")])


def together(amps: Sequence[float], watts: Sequence[float], volts: float) -> Answer:
    """Current of loads together."""
    if not amps and not watts:
        raise DiaryError("together needs amps or watts, such as amps=12.5,18.")
    value = electrics.combined_current(list(amps), list(watts), volts)
    return Answer(f"{figure(value, 4)} A together at {figure(volts)} V.", [row(value, "A")])


def battery(volts: float) -> Answer:
    """Charge by resting voltage."""
    found = electrics.battery_state(volts)
    return Answer(
        f"{figure(volts, 4)} V at rest is about {found.percent:.0f} % charged: {found.text}.",
        [row(found.percent, "percent")],
    )


def charging(volts: float) -> Answer:
    """Is it charging?"""
    well, text = electrics.charging(volts)
    return Answer(("" if well else "No: ") + text + ".", [row(volts, "V")])


def flat(draw: float, capacity: float, percent: float) -> Answer:
    """Time until a parked battery is down."""
    if not draw > 0:
        raise DiaryError("flat needs a draw above zero, in mA.")
    hours = electrics.hours_to_flat(capacity, draw / 1000, 100, percent)
    limit = table("electrics")["parasitic"]["usual_limit_mA"]
    verdict = (
        "a usual draw"
        if draw <= limit
        else f"more than the usual limit of {limit} mA: pull fuses one at a time to find it"
    )
    text = (
        f"{figure(hours)} h ({figure(hours / 24)} days) from full to {figure(percent)} % of {figure(capacity)} "
        f"Ah; {figure(draw)} mA is {verdict}."
    )
    return Answer(text, [row(hours, "h"), row(hours / 24, "d")], certain=False)


def refrigerant(temperature: Measure, reading: Measure | None, fluid: str) -> Answer:
    """Saturation pressure, system off."""
    unit = reading.unit if reading else "psi"
    value = gas.saturation_gauge(temperature.value, temperature.unit, unit, fluid)
    text = (
        f"{fluid} at rest at {figure(temperature.value)} {temperature.unit} stands at {figure(value)} {unit} "
        f"while any liquid is left."
    )
    if reading is not None:
        text += (
            f" {figure(reading.value)} {unit} is "
            f"{gas.static_reading(reading.value, temperature.value, unit, temperature.unit, fluid).text}."
        )
    return Answer(text, [row(value, unit)])


def freeze(percent: float, glycol: str) -> Answer:
    """Freeze point of coolant."""
    celsius = fluids.freeze_point_celsius(percent / 100, glycol)
    fahrenheit = celsius * 1.8 + 32
    text = (
        f"{figure(percent)} % {glycol} glycol freezes at about {celsius:.0f} °C ({fahrenheit:.0f} °F), give or "
        f"take 2 °C."
    )
    return Answer(text, [row(celsius, "degC", 2.0), row(fahrenheit, "degF", 3.6)])


def coolant(system: Measure, now: float, wanted: float) -> Answer:
    """How much to drain and refill."""
    value = fluids.volume_to_swap(system.value, now / 100, wanted / 100)
    what = "concentrate" if wanted > now else "water"
    return Answer(f"Drain {figure(value)} {system.unit} and fill with {what}.", [row(value, system.unit)])


def two_stroke(fuel: Measure, ratio: float) -> Answer:
    """Oil for a fuel mix."""
    oil = fluids.two_stroke_oil(fuel.value, ratio)
    ml = convert(oil, fuel.unit, "mL")
    ounces = convert(oil, fuel.unit, "oz_fl")
    text = (
        f"{figure(ounces)} fl oz ({figure(ml)} mL) of oil to {figure(fuel.value)} {fuel.unit} at {figure(ratio)} to 1."
    )
    return Answer(text, [row(ounces, "oz_fl"), row(ml, "mL")])


def balance(weights: Sequence[tuple[float, float]], unit: str) -> Answer:
    """One weight for several."""
    if any(not isinstance(w, tuple | list) or len(w) != 2 for w in weights):
        raise DiaryError("balance: 'weights' are mass:degrees, such as 60:0,35:90.")
    mass, angle = fluids.combined_balance([(w[0], w[1]) for w in weights])
    return Answer(
        f"They act as {figure(mass)} {unit} at {angle:.0f} degrees.", [row(mass, unit_code(unit)), row(angle, "deg")]
    )


def ballast(mass: Measure, arm: float, ballast_arm: float) -> Answer:
    """Mass that holds another about a pivot."""
    value = fluids.ballast(mass.value, arm, ballast_arm)
    return Answer(f"{figure(value)} {mass.unit} holds {figure(mass.value)} {mass.unit}.", [row(value, mass.unit)])


def due(
    every: Measure | None,
    months: float | None,
    done: float | None,
    now: float | None,
    done_on: date | None,
    today: date | None,
) -> Answer:
    """When something is due next."""
    if every is None and months is None:
        raise DiaryError("due needs an interval: every=5000 (miles), every=250h, or months=6.")
    hours = every is not None and every.unit == "h"
    found = intervals.next_due(
        done_on=done_on,
        done_distance=None if hours else done,
        done_hours=done if hours else None,
        every_distance=None if hours or every is None else every.value,
        every_hours=every.value if hours and every is not None else None,
        every_months=None if months is None else int(months),
        now=today or date.today(),
        now_distance=None if hours else now,
        now_hours=now if hours else None,
        unit="mi" if every is None or hours else every.unit,
    )
    values = [
        row(v, u)
        for v, u in (
            (found.distance, "mi" if every is None else every.unit),
            (found.hours, "h"),
            (found.days_left, "d"),
        )
        if v is not None
    ]
    return Answer(found.text[0].upper() + found.text[1:] + ".", values)


def interval(interval: Measure, fitted: str, calibrated: str) -> Answer:
    """Interval on a wrong odometer."""
    factor = tyres.correction(tyres.tyre(calibrated), tyres.tyre(fitted))
    value = intervals.indicated_interval(interval.value, factor)
    return Answer(
        f"Count {value:,.0f} {interval.unit} on the odometer for a true {interval.value:,.0f}.",
        [row(value, interval.unit)],
    )
