import sys

sys.exit("this module leaves Python")
