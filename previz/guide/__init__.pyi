from .topics import TOPICS as TOPICS
from .topics import guide_page as guide_page
from .topics import guide_titles as guide_titles
