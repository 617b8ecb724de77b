"""How the web server runs: one process, a few threads, so that one machine of the smallest size is enough."""

import os

worker_class = "gthread"
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
