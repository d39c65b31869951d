"""Which tones to print, where on the page, and drawing the page.

`plan` and `picture_tones` say which tones, `patches` why each is printed; `page` says where each
goes; `drawing` makes the TIFF and the PDF; `chart` does the whole.
"""
