"""Sink ``influxdb``: copies the journal to a server that takes the InfluxDB 2 write API."""

from parchd.contract import AdapterKind, Services
from parchd_adapters.influxdb.lines import LineEncoder
from parchd_adapters.influxdb.options import InfluxOptions
from parchd_adapters.influxdb.sink import InfluxSink
from parchd_adapters.influxdb.writer import InfluxWriter


def build(options: InfluxOptions, services: Services) -> InfluxSink:
    """Make the sink; nothing is opened, and the client library is not imported, before the first rows."""
    encoder = LineEncoder(services.site, options.measurement, options.channel_measurement, options.tags)
    return InfluxSink(encoder, InfluxWriter(options, services), options.batch_rows)


KIND = AdapterKind(InfluxOptions, build)

__all__ = ["KIND", "InfluxOptions", "InfluxSink", "LineEncoder", "build"]
