/* A small grammar that has the trap which traps.awk looks for: it has to find one here. */
%fallback NAME
  REST A B C D E F G H I J K L M N O P Q R S T U V W X Y Z
  AA BB CC DD EE FF GG HH II JJ KK LL MM NN OO PP QQ RR SS TT.
file ::= items.
items ::= .
items ::= items item.
item ::= LET NAME ease.
ease ::= .
ease ::= NAME.
item ::= REST IN NAME.
item ::= LOOSE A B C D E F G H I J K L M N O P Q R S T U V W X Y Z.
item ::= LOOSE AA BB CC DD EE FF GG HH II JJ KK LL MM NN OO PP QQ RR SS TT.
