"""Humidifiers and delivery sets: limited numbers of what a patient needs beside a source."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.layout import NONE, device_at, number_at


def needs_humidifier(k: Record, p: Record) -> Whole:
    """Return True if the device, or the flow prescribed, needs a humidifier."""
    device = device_at(k, p.class_index)
    return p.flow_ml_min > device.dry_above_ml_min or device.humidified


def lacks_delivery(k: Record, p: Record) -> Whole:
    """Return True if there is no delivery set, or no humidifier, for a patient who needs it."""
    return k.limits_delivery and not p.has_delivery and (_lacks_set(k, p) or _lacks_humidifier(k, p))


def _lacks_set(k: Record, p: Record) -> Whole:
    place = device_at(k, p.class_index).place
    return place != NONE and number_at(k.delivery_free, place).value < 1


def _lacks_humidifier(k: Record, p: Record) -> Whole:
    limited = k.rules.bedside_humidifiers != NONE
    return limited and k.humidifiers_free < 1 and needs_humidifier(k, p)


def take_delivery(k: Record, p: Record) -> None:
    """Give a delivery set, and a humidifier where one is needed, to a patient who is connected to a source.

    They stay with the patient through changes and responses, and are free again as the patient waits in line or
    leaves.
    """
    if p.has_delivery:  # of a patient whose back-up was being opened
        return
    p.has_delivery = True
    if not k.limits_delivery:
        return
    place = device_at(k, p.class_index).place
    if place != NONE:
        number_at(k.delivery_free, place).value -= 1
    if k.rules.bedside_humidifiers != NONE and needs_humidifier(k, p):
        k.humidifiers_free -= 1
        p.has_humidifier = True


def put_back_delivery(k: Record, p: Record) -> None:
    """Free the delivery set and the humidifier of a patient, for the next."""
    place = device_at(k, p.class_index).place if k.limits_delivery else NONE
    if p.has_delivery and place != NONE:
        number_at(k.delivery_free, place).value += 1
    if p.has_humidifier:
        k.humidifiers_free += 1
    p.has_delivery = p.has_humidifier = False


def delivery_would_do(k: Record, p: Record, other: Record) -> Whole:
    """Return True if the delivery set and humidifier of another would make good what this patient lacks."""
    if p.has_delivery:
        return True
    has_set = not _lacks_set(k, p) or device_at(k, other.class_index).place == device_at(k, p.class_index).place
    return has_set and (not _lacks_humidifier(k, p) or other.has_humidifier)


compile_file(globals())
