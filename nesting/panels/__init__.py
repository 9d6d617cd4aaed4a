"""Parametric cut parts: from finished sizes and allowances to shapes to cut.

Importing this package fills `GENERATORS`. Each family has its own module; `geometry` holds outlines,
`shaping` turns sizes into cut sizes, `ring` makes strips round a bed, `generator` is the contract.

Allowances are named alike by all generators, so a range file gives each once. All are mm on each edge
unless stated; the usual ranges are defaults to be replaced by a factory's own measurements.

===================  ======  ==================================================  ============  ===============
Allowance            Symbol  Meaning                                             Usual range   Where from
===================  ======  ==================================================  ============  ===============
back_inset           --      headboard back cloth set in from the board edge     10            common practice
back_turn_under      --      headboard back cloth turned under                   15            common practice
board_inset          i       board stays inside its frame                        0 to 10       own choice
border_crown         hc      height taken by each crowned face                   0 to 20       common practice
corner_leg           b       leg of a corner support or corner block             100 to 200    common practice
cover_inset          u       dust cover edge set in from the frame edge          5 to 15       common practice
cover_turn_under     t       dust cover turned under; 0 for a raw edge           0, 15 to 25   common practice
crown                c       extra panel to climb over soft edges                0 to 15       common practice
ease                 e       border ease (+) or stretch fit (-), a share         -0.01 to 0.01 common practice
flange_width         --      cut width of a flange strip                         120 to 180    common practice
foam_oversize        o       foam larger for compression fit, per dimension      5 to 20       common practice
gusset_height        g       finished height of a pillow gusset                  30 to 70      common practice
headboard_foam       --      thickness of the foam on a headboard                to drawing    own choice
headboard_staple     --      cloth stapled behind a headboard                    40            common practice
headboard_thickness  --      thickness of a headboard's board                    to drawing    own choice
join_seam            j       seam at each end of a border strip                  10 to 20      common practice
lap                  v       overlap of a lapped join, or of tape, in all        30 to 80      common practice
pad_inset            p       insulator pad smaller than the spring unit          5 to 25       common practice
peak                 p       height of the peaks of a convoluted pad             to drawing    own choice
plain_seam           s       take-up of a plain seam                             12            common practice
rail_height          --      height of foam rails, the slab thickness            to drawing    own choice
rail_width           w       width of foam rails                                 75 to 100     common practice
seam                 s       take-up of tape edge or overlock                    10 to 20      common practice
staple               k       cloth tucked and stapled under a base               40 to 60      common practice
strip_width          --      width of an edge support strip                      to drawing    own choice
thickness            T, a    thickness of a foam slab or convoluted pad          to drawing    own choice
turnover             f       base border turned over the top edge                0 to 100      common practice
===================  ======  ==================================================  ============  ===============
"""

# Imported for their effect: each module registers its generators.
from nesting.panels import (  # noqa: F401
    base,
    boards,
    borders,
    corners,
    faces,
    foam,
    headboard,
    layers,
    pillow,
    plain,
)
from nesting.panels.generator import (
    GENERATORS,
    CutShape,
    Dims,
    Generator,
    Limit,
    PanelError,
    Parameter,
)

__all__ = ["GENERATORS", "CutShape", "Dims", "Generator", "Limit", "PanelError", "Parameter"]
