#!/usr/bin/perl
# Draws what `tmux capture-pane -e -p` printed as SVG: terminal_picture.pl COLUMNS ROWS < capture > svg
use strict;
use warnings;
use utf8;
binmode STDIN, ':encoding(UTF-8)';
binmode STDOUT, ':encoding(UTF-8)';
my ($columns, $rows) = @ARGV;
my ($wide, $high, $plain, $ground) = (9.6, 20, '#c8c8c8', '#16181d');
my ($front, $back) = ($plain, $ground);
printf '<svg xmlns="http://www.w3.org/2000/svg" width="%g" height="%g" shape-rendering="crispEdges">'
    . '<rect width="100%%" height="100%%" fill="%s"/>', $columns * $wide, $rows * $high, $ground;
sub area {
    my ($x, $y, $height, $colour) = @_;
    return if $colour eq $ground;
    printf '<rect x="%g" y="%g" width="%g" height="%g" fill="%s"/>', $x, $y, $wide, $height, $colour;
}
my $row = 0;
while (my $line = <STDIN>) {
    last if $row == $rows;
    chomp $line;
    my $column = 0;
    while ($line =~ /\G(?:\e\[([0-9;]*)m|(.))/g) {
        if (defined $1) {
            my @codes = split /;/, $1;
            @codes = (0) unless @codes;
            while (@codes) {
                my $code = shift @codes;
                if ($code == 38 || $code == 48) {
                    my ($kind, $r, $g, $b) = splice @codes, 0, 4;
                    die "only true colour is understood\n" unless $kind == 2;
                    my $colour = sprintf '#%02x%02x%02x', $r, $g, $b;
                    $code == 38 ? ($front = $colour) : ($back = $colour);
                }
                $front = $plain if $code == 0 || $code == 39;
                $back = $ground if $code == 0 || $code == 49;
            }
            next;
        }
        my ($x, $y, $sign) = ($column++ * $wide, $row * $high, $2);
        if ($sign eq "▀") {
            area($x, $y, $high / 2, $front);
            area($x, $y + $high / 2, $high / 2, $back);
            next;
        }
        area($x, $y, $high, $back);
        if ($sign ne ' ') {
            $sign =~ s/&/&amp;/; $sign =~ s/</&lt;/;
            printf '<text x="%g" y="%g" font-family="DejaVu Sans Mono" font-size="15.9" fill="%s">%s</text>',
                $x, $y + 15, $front, $sign;
        }
    }
    $row++;
}
print "</svg>\n";
