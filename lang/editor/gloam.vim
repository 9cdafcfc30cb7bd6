" Vim syntax of Gloam, light routines for lamps.
if exists("b:current_syntax")
  finish
endif
syn case match
syn keyword gloamWord along and at between blended delayed dial else every if in lamp let not on
syn keyword gloamWord or over paint play routine then use when where
syn keyword gloamSoft after apr as astronomical aug ball before by chip civil clock dawn days
syn keyword gloamSoft dec decreasing die dither draws dusk each ease eased ends event except
syn keyword gloamSoft faces fading feb flashes for fri from gain grid group hue idle increasing
syn keyword gloamSoft is jan jul jun keep lasts level linear longer mar may mirrored mon
syn keyword gloamSoft nautical nov oct of order part pixels place points port priority repaint
syn keyword gloamSoft ring sat sep set shape shorter steps strip sun sunrise sunset supply
syn keyword gloamSoft throughout thu to tue turned under universe until wed weekdays weekends
syn keyword gloamSoft white with zigzag zone
syn keyword gloamFunction abs min max clamp floor ceil round fract mod sqrt pow sin cos tan
syn keyword gloamFunction atan2 tick random draw in_turn noise apart within rgb hsl hwb oklab
syn keyword gloamFunction oklch
syn keyword gloamMoment t progress pixel pixels pos x y z radius angle hour moonlit moonage
syn keyword gloamMoment sunheight
syn keyword gloamTruth true false
syn match gloamEasing "\<\%(cubic-bezier\|plus-lighter\|ease-in-out\|srgb-linear\|jump-start\|step-start\|jump-both\|jump-none\|ease-out\|jump-end\|step-end\|ease-in\)\>"
syn match gloamNumber "\<\d\+\%(\.\d\+\)\=\%(%\|\a\+\%(\d\+\a\+\)*\)\="
syn match gloamNumber "\<\d\d\=:\d\d\%(:\d\d\)\="
syn match gloamColour "#\x\{6}\>\|#\x\{3}\>"
syn region gloamText start=+"+ skip=+\\.+ end=+"\|$+
syn match gloamComment "//.*$"
hi def link gloamWord Statement
hi def link gloamSoft Keyword
hi def link gloamFunction Function
hi def link gloamMoment Identifier
hi def link gloamTruth Boolean
hi def link gloamEasing Constant
hi def link gloamNumber Number
hi def link gloamColour Constant
hi def link gloamText String
hi def link gloamComment Comment
let b:current_syntax = "gloam"
