" The groups that vim gives to the words of the sample; run by slow_highlight.sh:
" vim -u NONE -es -S highlight.vim with $SAMPLE, $EXPECTED, $RESULT, $EDITOR_FILES.
set nocompatible nomore
execute 'set runtimepath^=' . $EDITOR_FILES
filetype plugin on
syntax on
execute 'edit ' . $SAMPLE
let s:out = [&filetype ==# 'gloam' ? 'passed' : 'expected filetype gloam, not `' . &filetype . '`']
for s:row in readfile($EXPECTED)
  let s:cells = split(s:row, ' | ')
  if s:row =~# '^# ' || len(s:cells) < 3 || s:cells[2] ==# '?'
    continue
  endif
  let [s:line, s:word, s:nth] = split(s:cells[0], ' ')
  let s:column = match(getline(s:line), '\C\%(\w\|-\)\@<!\V' . s:word . '\m\w\@!', 0, s:nth)
  let s:names = map(synstack(s:line, s:column + 1), 'synIDattr(v:val, "name")')
  call filter(s:names, 'v:val !~# "^gloam\\%(Body\\|Lamp\\|Entry\\)$"')
  let s:name = empty(s:names) ? '-' : s:names[-1]
  if s:column >= 0 && s:name ==# s:cells[2]
    call add(s:out, 'passed')
  else
    call add(s:out, 'expected ' . s:cells[2] . ' at `' . s:word . '` of line ' . s:line . ', not ' . s:name)
  endif
endfor
call writefile(s:out, $RESULT)
qall!
