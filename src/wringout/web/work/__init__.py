"""Work that takes more than a second, as functions that a worker process calls; see `wringout.web.jobs`."""
