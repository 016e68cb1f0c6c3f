"""The wire of Strandproof, written from proto/SPEC.md alone; shares no code with the C++ end."""
