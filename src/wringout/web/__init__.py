"""The workbench in the browser: pages over the services, and the page of taps for the cockpit."""
