"""How the production server is started: granian, speaking WSGI to worker processes.

WSGI, because a transaction belongs to one thread. A worker that dies is replaced, and one that
doesn't stop when told is ended.
"""

import multiprocessing
import os
import signal
import socket
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from django.core.handlers.wsgi import WSGIHandler
from granian.constants import Interfaces
from granian.log import LogLevels
from granian.server import Server

STOP_WITHIN_S = 30
"""How long a worker may take to finish what it is answering."""

CONNECTIONS_A_WORKER = 512
"""Beyond so many open connections new ones wait to be accepted; an idle one is closed in 30 s."""


@dataclass(frozen=True)
class Serving:
    """Where to serve, with how many worker processes of how many threads, and the TLS files."""

    host: str
    port: int
    workers: int
    threads_a_worker: int
    certificate: Path | None = None
    key: Path | None = None

    @property
    def address(self) -> str:
        """The address that it listens on."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{'https' if self.certificate else 'http'}://{host}:{self.port}"


def check_port_is_free(host: str, port: int) -> None:
    """Raise OSError where something listens already.

    Granian's sockets share their port, so a second server would take half of the first one's
    requests, and answer them from another database.
    """
    family, kind, protocol, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
    with socket.socket(family, kind, protocol) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        probe.bind(address)


def serve(serving: Serving, *, ready: Callable[[], None]) -> None:
    """Serve until TERM or INT; ``ready`` is called once the socket stands.

    OSError (ssl.SSLError is one) where the port is taken or the TLS files can't be used;
    SystemExit(1) where workers fail again and again.
    """
    check_port_is_free(serving.host, serving.port)
    # A forked worker leaves at once; a spawned one takes Python down first, and granian's threads
    # can panic in that. Database connections must not be open here, or workers would share them.
    multiprocessing.set_start_method("fork", force=True)
    server = Server(
        "clinic.wsgi",
        address=serving.host,
        port=serving.port,
        interface=Interfaces.WSGI,
        websockets=False,
        workers=serving.workers,
        blocking_threads=serving.threads_a_worker,
        backpressure=CONNECTIONS_A_WORKER,
        respawn_failed_workers=True,
        workers_kill_timeout=STOP_WITHIN_S,
        log_level=LogLevels.warning,
        ssl_cert=serving.certificate,
        ssl_key=serving.key,
    )

    def started() -> None:
        # A closed terminal (HUP) stops it too; granian would start new workers.
        signal.signal(signal.SIGHUP, server.signal_handler_interrupt)
        ready()

    server.on_startup(started)
    server.serve(target_loader=application_in_a_worker, wrap_loader=False)


def application_in_a_worker() -> WSGIHandler:
    """Return the application, in a worker that is stopped by the first process and by its end.

    A terminal's Ctrl-C reaches the first process only: a worker told twice at once may hang.
    """
    os.setpgid(0, 0)
    threading.Thread(target=_stop_when_alone, daemon=True).start()
    from clinic.wsgi import application

    return application


def _stop_when_alone() -> None:
    """Stop this worker once its first process is gone, lest it keep the port for ever."""
    if first := multiprocessing.parent_process():
        first.join()
        os.kill(os.getpid(), signal.SIGTERM)
