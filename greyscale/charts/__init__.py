"""Which tones to print, where on the page, and drawing the page.

`tones`, `near_neutral`, `after` and `picture_tones` say which patches and why; `order` and `page`
where they go; `marks` what else is on the page; `drawing` makes the TIFF, `drawing_pdf` the PDF;
`chart` does the whole.
"""
