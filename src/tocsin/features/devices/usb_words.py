"""Say in lines what plugged-in USB devices may draw."""

from collections.abc import Iterator

from tocsin.features.devices.usb_power import Load, UsbPower
from tocsin.translation import tr


def power_lines(power: UsbPower) -> Iterator[str]:
    """Yield the ports of the laptop with the devices behind each; below port and device what is wrong with it."""
    if power.why:
        yield power.why
    elif not power.ports:
        yield tr("none")
    for port in power.ports:
        yield tr(
            "port {place}: {sum} mA, and it gives {gives} mA", place=port.place, sum=port.sum_ma, gives=port.gives_ma,
        )
        if port.why:
            yield f"  {port.why}"
        for load in port.devices:
            yield f"  {load.place}  {load.name or load.usb}: {_asks(load)}"
            if load.why:
                yield f"    {load.why}"


def _asks(load: Load) -> str:
    if load.strip_ma is not None:
        return tr("{asks} mA, {strip} mA with the strip if USB feeds it", asks=load.asks_ma, strip=load.strip_ma)
    if load.hub and load.own_supply:
        return tr("{asks} mA, a hub that says it has its own supply", asks=load.asks_ma)
    if load.hub:
        return tr("{asks} mA, a hub without its own supply", asks=load.asks_ma)
    return tr("{asks} mA", asks=load.asks_ma)
