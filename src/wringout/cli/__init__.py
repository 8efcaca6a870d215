"""The command line: a thin face that calls the services and says what they return."""
