"""The workbench: a local web application over the services. ``docs/look.md`` says why it looks as it does."""
