"""Meshes and images from files, which come from strangers; and which files were read."""

from previz.stage.keep.files.images import load_image as load_image
from previz.stage.keep.files.meshes import load_model as load_model
from previz.stage.keep.files.reading import digest as digest
from previz.stage.keep.files.reading import note as note
from previz.stage.keep.files.reading import read_files as read_files
