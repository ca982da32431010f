"""What every report says about its own limits."""

CAUTIONS = (
    "This is a statement about map products, not a boundary survey or any other legal survey.",
    "Where the law asks for a licensed professional, that person certifies the result; this only computes.",
    "Local codes and the client's specification prevail over anything said here.",
    "The figures hold for the tested area, the tested kinds of surface and the date of the products. Between "
    "and beyond the points nothing was measured.",
    "Absolute accuracy rests on the position of the base. An error of the base that survey and flight share "
    "does not show in the residuals.",
    "Points that also steered the processing of the products prove nothing about them: only independent "
    "checkpoints do.",
    "Nothing here is advice on flying. Flights follow the local aviation rules.",
)
