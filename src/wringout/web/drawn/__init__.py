"""What pages draw: intervals on scales, runs, readings over time, clocks."""
