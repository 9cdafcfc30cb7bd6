autocmd BufRead,BufNewFile *.gloam setfiletype gloam
