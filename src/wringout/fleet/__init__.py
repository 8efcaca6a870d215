"""Many studies and airplanes together: pooled findings, and go-arounds found in archives of logs."""
