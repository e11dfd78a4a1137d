"""Labels of makers, GS1 and HIBC: ``reading`` takes any of them, as a scanner gives it or as it is printed."""
