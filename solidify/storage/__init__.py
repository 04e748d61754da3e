"""HDF5 files of results and studies, and the checkpoints of a running study."""
