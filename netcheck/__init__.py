"""Does a print queue stand ready to move from the old printer to the new one?"""

__version__ = "0.1.0"
