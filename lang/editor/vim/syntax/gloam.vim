" Syntax of Gloam. The lists behind a line `" list: ...` are written by lang/editor/make_lists.sh.
if exists('b:current_syntax')
  finish
endif
syn case match
syn iskeyword @,48-57,_
syn sync minlines=200

syn match gloamComment "//.*$" contains=gloamTodo,@Spell
syn match gloamComment "\%^#!.*$"
syn keyword gloamTodo contained TODO FIXME XXX
syn match gloamEscape contained "\\[\"\\]"
syn region gloamText start=/"/ end=/"/ oneline contains=gloamEscape,@Spell

" Values: later lines win.
syn match gloamNumber "\<\d\+\%(\.\d\+\)\=%\="
syn match gloamWrongUnit "\<\d\+\%(\.\d\+\)\=\h\w*"
syn match gloamDuration "\<\d\+\%(\.\d\+\)\=\%(h\|min\|s\|ms\)\>"
syn match gloamDuration "\<\%(\d\+\%(h\|min\|s\)\)\+\d\+\%(\.\d\+\)\=\%(min\|s\|ms\)\>"
syn match gloamQuantity "\<\d\+\%(\.\d\+\)\=\%(deg\|rad\|grad\|turn\|K\|V\|A\|mA\|kHz\)\>"
syn match gloamTime "\<\d\{1,2}:\d\{2}\%(:\d\{2}\)\=\>"
syn match gloamDate "\<\d\{4}-\d\{2}-\d\{2}\>"
syn match gloamWrongColour "#\w*"
syn match gloamHexColour "#\x\{3}\%(\x\{3}\)\=\>"

syn keyword gloamDeclaration use let dial routine lamp
syn keyword gloamLayer paint where blended
syn keyword gloamRamp over every along delayed in
" No keywords, which would win over what begins with them: `and back`, entries.
syn match gloamRamp "\<at\>"
syn match gloamTimetable "\<\%(when\|between\)\>"
syn match gloamOperator "\<and\>"
syn keyword gloamControl if then else
syn keyword gloamOperator or not
syn keyword gloamTimetable on play
syn keyword gloamTruth true false

" Soft words where they mean something; elsewhere they are names.
syn match gloamRamp "\<and\s\+\%(back\|round\)\>\ze\s\+\%(over\|throughout\|every\|for\|along\)\>"
syn match gloamRamp "\<throughout\>\|\<each\>\|\<for\>\ze\s\+[0-9A-Za-z_(]"
syn match gloamDeclaration "\<lasts\>\|^\s*\zsevent\>\ze\s\+\h\|^\s*\zsplace\>\ze\s\+-\=\d"
syn match gloamDeclaration "\%(\"\s*\)\@<=as\>"
syn match gloamDial "\<\%(from\|to\|eased\)\>\ze\s\+[0-9A-Za-z_(#-]"
syn match gloamTimetable "\<zone\>\ze\s*\""
" list: hue-paths
syn match gloamRamp "\<\%(decreasing\|increasing\|shorter\|longer\)\>\s\+hue\>"
" list: easings
syn match gloamEasing "\<\%(ease-in-out\|step-start\|ease-out\|step-end\|ease-in\|ease\)\>\%(-\)\@!"
" list: easing-functions
syn match gloamEasing "\<\%(cubic-bezier\|linear\|steps\)\ze\s*("
syn match gloamEasing "\<jump-\%(start\|end\|both\|none\)\>"
syn match gloamName "\<plus-lighter\>\|\<srgb-linear\>"

" list: moments
syn keyword gloamMoment sunheight progress moonage moonlit pixels radius angle pixel hour pos t x y z
" list: colours
syn match gloamColour "\<\%(lightgoldenrodyellow\|mediumspringgreen\|mediumaquamarine\|mediumslateblue\|mediumturquoise\|mediumvioletred\|blanchedalmond\|cornflowerblue\|darkolivegreen\|lightslategray\|lightslategrey\|lightsteelblue\|mediumseagreen\|darkgoldenrod\|darkslateblue\|darkslategray\|darkslategrey\|darkturquoise\|lavenderblush\|lightseagreen\|palegoldenrod\|paleturquoise\|palevioletred\|rebeccapurple\|antiquewhite\|darkseagreen\|lemonchiffon\|lightskyblue\|mediumorchid\|mediumpurple\|midnightblue\|darkmagenta\|deepskyblue\|floralwhite\|forestgreen\|greenyellow\|lightsalmon\|lightyellow\|navajowhite\|saddlebrown\|springgreen\|yellowgreen\|aquamarine\|blueviolet\|chartreuse\|darkorange\|darkorchid\|darksalmon\|darkviolet\|dodgerblue\|ghostwhite\|lightcoral\|lightgreen\|mediumblue\|papayawhip\|powderblue\|sandybrown\|whitesmoke\|aliceblue\|burlywood\|cadetblue\|chocolate\|darkgreen\|darkkhaki\|firebrick\|gainsboro\|goldenrod\|indianred\|lawngreen\|lightblue\|lightcyan\|lightgray\|lightgrey\|lightpink\|limegreen\|mintcream\|mistyrose\|olivedrab\|orangered\|palegreen\|peachpuff\|rosybrown\|royalblue\|slateblue\|slategray\|slategrey\|steelblue\|turquoise\|cornsilk\|darkblue\|darkcyan\|darkgray\|darkgrey\|deeppink\|honeydew\|lavender\|moccasin\|seagreen\|seashell\|crimson\|darkred\|dimgray\|dimgrey\|fuchsia\|hotpink\|magenta\|oldlace\|skyblue\|thistle\|bisque\|indigo\|maroon\|orange\|orchid\|purple\|salmon\|sienna\|silver\|tomato\|violet\|yellow\|azure\|beige\|black\|brown\|coral\|green\|ivory\|khaki\|linen\|olive\|wheat\|white\|aqua\|blue\|cyan\|gold\|gray\|grey\|lime\|navy\|peru\|pink\|plum\|snow\|teal\|red\|tan\)\>\%(\s*(\)\@!"
" list: functions
syn match gloamFunction "\<\%(in_turn\|random\|within\|apart\|atan2\|clamp\|floor\|fract\|noise\|oklab\|oklch\|round\|ceil\|draw\|sqrt\|tick\|abs\|cos\|hsl\|hwb\|max\|min\|mod\|pow\|rgb\|sin\|tan\)\>\ze\s*("
syn match gloamFunction "\<ease\ze\s*("

" What stands in braces.
syn region gloamBody matchgroup=gloamBrace start=/{/ end=/}/ fold
      \ contains=ALLBUT,gloamTodo,gloamEscape,gloamProperty,gloamShape,gloamEntry,gloamEntryWord,gloamDay
syn region gloamLamp matchgroup=gloamBrace start=/\%(\<lamp\s\+\h\w*\s*\)\@<={/ end=/}/ fold
      \ contains=gloamComment,gloamText,gloamNumber,gloamWrongUnit,gloamDuration,gloamQuantity,gloamProperty,gloamShape
syn match gloamProperty contained "\<\%(pixels\|shape\|chip\|port\|order\|supply\|level\|white\|part\|group\|turned\|mirrored\|draws\|idle\|gain\|die\|dither\|repaint\|clock\|ends\|flashes\|universe\|priority\)\>"
syn match gloamShape contained "\<\%(strip\|ring\|grid\|by\|zigzag\|ball\|faces\|points\)\>"

" Entries of a timetable, at the top only.
syn region gloamEntry matchgroup=gloamTimetable oneline start=/^\s*\%(at\|by\|when\|between\|until\)\>/ end=/$/ keepend
      \ contains=gloamComment,gloamText,gloamNumber,gloamWrongUnit,gloamDuration,gloamQuantity,gloamTime,gloamDate,gloamEntryWord,gloamDay,gloamControl,gloamOperator,gloamTimetable,gloamTruth,gloamHexColour,gloamDeclaration,gloamRamp
syn match gloamEntryWord contained "\<\%(by\|until\|except\|days\|of\|with\|for\|fading\|part\|from\|before\|after\|keep\|level\|under\|clock\|is\|set\|off\)\>"
" list: days sun
syn match gloamDay contained "\<\%(weekdays\|weekends\|apr\|aug\|dec\|feb\|fri\|jan\|jul\|jun\|mar\|may\|mon\|nov\|oct\|sat\|sep\|sun\|thu\|tue\|wed\|astronomical\|nautical\|sunrise\|sunset\|civil\|dawn\|dusk\)\>"

hi def link gloamComment Comment
hi def link gloamTodo Todo
hi def link gloamEscape SpecialChar
hi def link gloamText String
hi def link gloamNumber Number
hi def link gloamDuration Number
hi def link gloamQuantity Number
hi def link gloamTime Number
hi def link gloamDate Number
hi def link gloamHexColour Constant
hi def link gloamWrongUnit Error
hi def link gloamWrongColour Error
hi def link gloamDeclaration Keyword
hi def link gloamLayer Statement
hi def link gloamRamp Statement
hi def link gloamControl Conditional
hi def link gloamOperator Operator
hi def link gloamTimetable Statement
hi def link gloamEntryWord Statement
hi def link gloamDial Keyword
hi def link gloamTruth Boolean
hi def link gloamEasing Function
hi def link gloamName Constant
hi def link gloamMoment Special
hi def link gloamColour Constant
hi def link gloamFunction Function
hi def link gloamProperty Type
hi def link gloamShape Constant
hi def link gloamDay Constant
hi def link gloamBrace Delimiter

let b:current_syntax = 'gloam'
