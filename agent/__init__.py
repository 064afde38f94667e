"""Dewline: watches the vapour that returns to a VRF outdoor module's compressor."""
