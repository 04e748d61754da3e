"""The march on plain arrays: grid, enthalpy table, boundary laws, compiled kernels and the calls that drive them."""
