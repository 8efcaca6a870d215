"""The airplane file, the equations of the airplane, loading and limits, against things nobody here wrote."""
