"""Colours that people with any colour vision tell apart, as RGB.

Source: Okabe and Ito, "Color Universal Design" (2008), https://jfly.uni-koeln.de/color/.
Words, numbers and line styles always say the same as the colours.
"""

Colour = tuple[int, int, int]

ORANGE: Colour = (230, 159, 0)
SKY_BLUE: Colour = (86, 180, 233)
BLUISH_GREEN: Colour = (0, 158, 115)
YELLOW: Colour = (240, 228, 66)
REDDISH_PURPLE: Colour = (204, 121, 167)

DARK: Colour = (16, 16, 20)
WHITE: Colour = (255, 255, 255)
