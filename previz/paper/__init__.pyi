from .sheet import Box as Box
from .sheet import Sheet as Sheet
from .sheet import Table as Table
from .sheet import View as View
from .written import pdf_of as pdf_of
from .written import png_of as png_of
from .written import svg_of as svg_of
