"""What one would write instead of parchd; the yardstick of bench_mqtt.py, run by it as a process of its own.

It reads so many messages of a session and prints, as JSON, when the first and the last came and when all were written.
"""

import json
import sys
import time

from influxdb_client import InfluxDBClient, Point, WriteOptions, WritePrecision
from influxdb_client.client.write_api import SYNCHRONOUS
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

way, client_id, mqtt_port, url, wanted = sys.argv[1], sys.argv[2], int(sys.argv[3]), sys.argv[4], int(sys.argv[5])
write_api = InfluxDBClient(url, "token", org="quillmere").write_api(
    write_options=SYNCHRONOUS if way == "synchronous" else WriteOptions()
)
count, first_s, cpu_s = 0, 0.0, 0.0


def on_message(client: Client, userdata: object, message: MQTTMessage) -> None:
    global count, first_s, cpu_s
    if not count:
        first_s, cpu_s = time.time(), time.process_time()
    if way != "bare":
        document = json.loads(message.payload)
        gauge_kpa = -(document["volts"] / 5.0 - 0.1) / 0.8 * 100.0
        tension_kpa = -gauge_kpa - 0.998 * 9.80665 * 0.45
        point = Point("tension").tag("sensor", message.topic.split("/")[1]).field("kpa", tension_kpa)
        write_api.write("soil", record=point.time(document["time"], WritePrecision.MS))
    count += 1
    if count == wanted:
        client.disconnect()


client = Client(CallbackAPIVersion.VERSION2, client_id, clean_session=False)
client.on_message = on_message
client.connect("127.0.0.1", mqtt_port)
client.loop_forever()
last_s = time.time()
write_api.close()
done_s = last_s if way == "bare" else time.time()
print(json.dumps({"seconds": done_s - first_s, "cpu_s": time.process_time() - cpu_s}))
