"""A broker that is not ours, mosquitto, for one test: on a free port of this machine alone.

    with mosquitto(tmp_path) as broker:
        broker.url("blue")                 # mqtt://127.0.0.1:PORT/blue
"""

import contextlib
import shutil
import socket
import subprocess
import time

import pytest

STARTS_S = 30
MARKER = "marker"


class Mosquitto:
    """The running broker. ``passwords`` are users and theirs; without any everybody may come."""

    def __init__(self, folder, passwords):
        self.port = _free_port()
        self._config = folder / "mosquitto.conf"
        self._log = folder / "mosquitto.log"
        lines = [f"listener {self.port} 127.0.0.1", "persistence false", f"log_dest file {self._log}", "user root"]
        if passwords:
            kept = folder / "passwords"
            kept.write_text("".join(f"{user}:{secret}\n" for user, secret in passwords.items()))
            subprocess.run(["mosquitto_passwd", "-U", str(kept)], check=True, capture_output=True)
            lines += ["allow_anonymous false", f"password_file {kept}"]
        else:
            lines += ["allow_anonymous true"]
        self._config.write_text("\n".join(lines) + "\n")
        self.process = None
        self.start()

    def start(self):
        self.process = subprocess.Popen(["mosquitto", "-c", str(self._config)], stderr=subprocess.DEVNULL)
        end_s = time.monotonic() + STARTS_S
        while True:
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self.port), 1):
                return
            assert self.process.poll() is None, self._log.read_text()
            assert time.monotonic() < end_s, self._log.read_text()
            time.sleep(0.02)

    def kill(self):
        self.process.kill()
        self.process.wait()

    def url(self, field, user=""):
        return f"mqtt://{user + '@' if user else ''}127.0.0.1:{self.port}/{field}"

    def read(self, topic, count=1):
        """Return what mosquitto's own reader got first on a topic: (retained, topic, payload) each."""
        done = subprocess.run(
            [*self._reads(topic), "-C", str(count), "-W", "60"], capture_output=True, text=True, check=True
        )
        return [
            (retained == "1", topic, payload)
            for retained, topic, payload in (line.split(" ", 2) for line in done.stdout.splitlines())
        ]

    def listen(self, topic):
        """Begin to read a topic; return what ends that and returns the lines."""
        # What is kept on the one topic comes once both are subscribed to.
        subprocess.run([*self._publishes(MARKER), "-r", "-m", "begin"], check=True)
        process = subprocess.Popen([*self._reads(topic), "-t", MARKER], stdout=subprocess.PIPE, text=True)
        kept = list(iter(process.stdout.readline, f"1 {MARKER} begin\n"))

        def end():
            # What was published before this is read before it.
            subprocess.run([*self._publishes(MARKER), "-m", "end"], check=True)
            said = kept + list(iter(process.stdout.readline, f"0 {MARKER} end\n"))
            process.kill()
            process.communicate()
            return said

        return end

    def ask(self, topic, answers="tocsin/1/blue/answers/test", waits=True):
        """Ask by MQTT 5's request and response, with mosquitto's own program; return the answer."""
        if not waits:
            asks = [*self._publishes(topic), "-n", "-D", "publish", "response-topic", answers]
            return subprocess.run(asks, check=True)
        done = subprocess.run(
            ["mosquitto_rr", "-V", "5", "-h", "127.0.0.1", "-p", str(self.port), "-t", topic, "-e", answers, "-m", "{}",
             "-W", "60"],
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        return done.stdout

    def say(self, topic, text):
        """Publish a text, as anybody may."""
        subprocess.run([*self._publishes(topic), *(["-s"] if text else ["-n"])], input=text.encode(), check=True)

    def _reads(self, topic):
        return ["mosquitto_sub", "-V", "5", "-h", "127.0.0.1", "-p", str(self.port), "-t", topic, "-F", "%r %t %p"]

    def _publishes(self, topic):
        return ["mosquitto_pub", "-V", "5", "-h", "127.0.0.1", "-p", str(self.port), "-t", topic]


@contextlib.contextmanager
def mosquitto(folder, passwords=None):
    """Yield a running broker; skip where there is none."""
    for program in ("mosquitto", "mosquitto_sub", "mosquitto_rr", "mosquitto_passwd"):
        if shutil.which(program) is None:
            pytest.skip(f"{program} is missing: apt-get install mosquitto mosquitto-clients")
    running = Mosquitto(folder, passwords)
    try:
        yield running
    finally:
        running.kill()


def _free_port():
    with socket.create_server(("127.0.0.1", 0)) as server:
        return server.getsockname()[1]
