# kills.pl GLOAM HOME NUMBER: a player whose frames take nearly all of its time is told new strengths
# of its red pixels (the dial `strength` of HOME, in percent) and is killed at a random moment, NUMBER
# times. Run in an empty folder. After each end: the state is whole JSON and has the strength that was
# answered last, or the one that was asked for after it; the next start shows that in its first
# frame. Prints what it saw; ends with 1 where something was wrong.
use strict;
use warnings;
use Cwd;
use IO::Socket::UNIX;
use JSON::PP;
use Time::HiRes qw(sleep time);

my ( $gloam, $home, $number ) = @ARGV;
my ( $door, $state, $frames ) = ( 'run/gloam/player.socket', 'state.json', 'frames.csv' );
$ENV{XDG_RUNTIME_DIR} = getcwd() . '/run';
mkdir 'run';
my %count = map { $_ => 0 } qw(kills young early asked answered later shown broken wrong);

sub tell_wrong { $count{wrong}++; print "round $count{kills}: @_\n" }

sub start {
    unlink $frames;
    my $child = fork // die "fork: $!";
    if ( !$child ) {
        open STDERR, '>', 'said' or die;
        exec $gloam, 'run', '--output', "csv:$frames", '--fps', '400', '--page', 'none',
          '--trust-after', '1s', '--state', $state, $home;
        die "exec: $!";
    }
    return $child;
}

# The strength that the state has, in percent; undef: none, or it is not whole.
sub kept {
    open my $file, '<', $state or return undef;
    my $text = do { local $/; <$file> };
    my $read = eval { decode_json($text) };
    tell_wrong("no JSON in the state: $text") unless $read;
    my ($dial) = $read ? @{ $read->{dials} } : ();
    return $dial ? sprintf '%.0f', 100 * $dial->{value} : undef;
}

# The first whole row of the first frame; undef: none came.
sub first_red {
    open my $file, '<', $frames or return undef;
    my $head = <$file>;
    my $row  = <$file>;
    return undef unless defined $row && $row =~ /^\d+,[\d.]+,0,(\d+),\d+,\d+\n/;
    return $1;
}

# Whether the last row is one of a frame that was cut: not the last pixel, or not whole.
sub is_broken {
    my $pixels = shift;
    open my $file, '<', $frames or return 0;
    seek $file, -80, 2 or return 0;
    my $tail = do { local $/; <$file> };
    my ($row) = $tail =~ /\n([^\n]*\n?)\z/;
    return !( $row =~ /^\d+,[\d.]+,(\d+),\d+,\d+,\d+\n\z/ && $1 == $pixels - 1 );
}

sub call {
    for ( 1 .. 4000 ) {
        my $socket = IO::Socket::UNIX->new( Type => SOCK_STREAM, Peer => $door );
        return $socket if $socket;
        sleep 0.005;
    }
    return undef;
}

open my $text, '<', $home or die;
my ($pixels) = join( '', <$text> ) =~ /pixels (\d+)/;
my ( $strength, $answered ) = ( 1, undef );
while ( $count{kills} < $number ) {
    my $child = start();

    # One in five does not get as far as its door.
    my $young  = rand() < 0.2;
    my $socket = $young ? undef : call();
    if ( !$young && !$socket ) {
        tell_wrong( 'nobody came to the door: ' . `cat said` );
        kill 'KILL', $child;
        waitpid $child, 0;
        last;
    }
    if ( $socket && defined $answered ) {
        my $red;
        for ( 1 .. 4000 ) { $red = first_red(); last if defined $red; sleep 0.005 }
        my $kept = kept();
        my $off  = defined $red && defined $kept ? $red - 255 * $kept / 100 : 99;
        tell_wrong( 'red ' . ( $red // 'none' ) . ' at strength ' . ( $kept // 'none' ) )
          if $off < -1 || $off > 1;
        $count{shown}++;
    }
    # A few acts, the last of them not waited for, every other time.
    my $asked = $strength;
    for my $act ( 1 .. ( $young ? 0 : 1 + int rand 3 ) ) {
        $asked = $strength = $strength % 100 + 1;
        print $socket "set strength $asked%\n";
        $socket->flush;
        $count{asked}++;
        last if rand() < 0.5;
        my $head = <$socket> // '';
        if ( $head =~ /^done (\d+)\n/ && read( $socket, my $body, $1 ) == $1 ) {
            $answered = $asked;
            $count{answered}++;
        }
        elsif ( $head !~ /^refused/ ) {
            tell_wrong("no answer: $head");
        }
    }
    sleep rand( $young ? 0.04 : 0.02 );
    kill 'KILL', $child;
    waitpid $child, 0;
    $count{early}++ if $? != 9;
    $count{kills}++;
    $count{young}++ if $young;
    $count{broken}++ if is_broken($pixels);
    close $socket if $socket;
    my $kept = kept();
    next unless defined $answered;
    if ( !defined $kept || ( $kept != $answered && $kept != $asked ) ) {
        tell_wrong( "$answered was answered, $asked asked for, kept is " . ( $kept // 'none' ) );
    }
    elsif ( $kept != $answered ) {
        $count{later}++;
        $answered = $kept;
    }
    $strength = $kept if defined $kept;
}
$count{wrong} += $count{early};
my @aside = glob 'state.json.aside-*';
tell_wrong("set aside: @aside") if @aside;
print "measured: $count{kills} ends by SIGKILL, $count{broken} of them with half a frame written, $count{young} before the start was over; "
  . "$count{asked} acts, $count{answered} answered and none of these lost, $count{later} kept "
  . "before they were answered; $count{shown} starts with the right frame; $count{wrong} wrong\n";
exit( $count{wrong} > 0 );
