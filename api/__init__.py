"""The service: what the commands do, over HTTP, for the stations of a plant.

    app, settings, problems
    routes  →  services  →  store, jobs

`routes` read requests and write answers, `services` own the transactions, `store` holds days and
plans, `jobs` plans in processes of their own. `cutopt` knows nothing of all this.
"""

__all__: list[str] = []
