"""How the web server runs: one process, a few threads, so that one machine of the smallest size is enough."""

import os

from gunicorn.config import Config
from gunicorn.glogging import Logger

from sugarbush.volunteers.hiding import HideLinks


class HidingLogger(Logger):
    """No access log is kept; whoever turns one on, or reads of a fault, still finds no token in an address."""

    def setup(self, cfg: Config) -> None:
        super().setup(cfg)
        for log in (self.error_log, self.access_log):
            for handler in log.handlers:
                handler.addFilter(HideLinks())


logger_class = HidingLogger
worker_class = "deploy.pace.Worker"
workers = 1
threads = 8
# The parent loads the app once and the worker shares its memory.
preload_app = True
timeout = 120
graceful_timeout = 10
keepalive = 5
# The heartbeat file belongs in memory: on a slow disk it can stall the worker.
worker_tmp_dir = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None  # noqa: S108
control_socket_disable = True
loglevel = "warning"
proc_name = "sugarbush"
